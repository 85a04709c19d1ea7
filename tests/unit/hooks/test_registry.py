from collections.abc import Callable
from typing import Any

import pytest

from viscount.errors import PluginError
from viscount.hooks.refusal import Refusal
from viscount.hooks.registry import PluginRow, RegisteredEntry, Registry
from viscount.seams import Entry, Options, View
from viscount.values import Falls, Sighting


class Level(Options):
    level: int = 128


class Blind:
    def __init__(self, options: Any = None, view: Any = None) -> None:
        self.options = options
        self.view = view

    def prime(self, frames):
        pass

    def see(self, frame, *, learn=True):
        return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=())


def registered(
    name: str, make: Callable[..., Any] = Blind, origin: str = "alpha 1.0"
) -> RegisteredEntry:
    entry = Entry(api=1, name=name, summary=f"about {name}", options=Level, make=make)
    return RegisteredEntry(kind="detector", entry=entry, plugin=name, origin=origin)


REGISTRY = Registry(
    entries=(registered("difference", origin="built-in"), registered("fixed-level")),
    refused=(
        Refusal(plugin="torchy", origin="torchy 2.0", reason="it cannot be imported: no torch"),
        Refusal(plugin="b", origin="beta 0.1", reason="other API", offered=("edges", "corners")),
    ),
)


def make(name: str, options: dict[str, Any] | None = None, registry: Registry = REGISTRY) -> Any:
    return registry.make_detector(name, options or {}, View(falls=Falls.LEFT), where="outlet.yaml")


def failing(error: BaseException) -> Registry:
    def maker(options: Level, view: View) -> Blind:
        raise error

    return Registry(entries=(registered("sad", maker),), refused=())


def test_a_detector_is_made_with_checked_options_and_the_view():
    made = make("fixed-level", {"level": 7})
    assert made.options == Level(level=7)
    assert made.view.falls is Falls.LEFT


def test_each_call_makes_a_new_one():
    assert make("difference") is not make("difference")


def test_detectors_are_by_name_in_order_of_loading_and_cannot_be_changed():
    assert list(REGISTRY.detectors) == ["difference", "fixed-level"]
    with pytest.raises(TypeError):
        REGISTRY.detectors["mine"] = registered("mine")  # type: ignore[index]


def test_an_unknown_name_is_told_the_nearest_all_others_and_what_was_refused():
    with pytest.raises(PluginError) as caught:
        make("diference")
    assert caught.value.where == "outlet.yaml: detector.name"
    assert caught.value.found == ("there is no detector 'diference', nearest known is 'difference'")
    assert caught.value.allowed == "difference, fixed-level"
    assert "torchy (torchy 2.0): it cannot be imported: no torch" in caught.value.remedy


def test_an_unknown_name_with_nothing_refused_says_no_more_than_it_knows():
    with pytest.raises(PluginError) as caught:
        make("zzz", registry=Registry(entries=(), refused=()))
    assert str(caught.value) == (
        "outlet.yaml: detector.name: there is no detector 'zzz'; allowed: none"
    )


@pytest.mark.parametrize(("name", "reason"), [("torchy", "no torch"), ("corners", "other API")])
def test_a_name_of_a_refused_plugin_tells_why_it_was_refused(name, reason):
    with pytest.raises(PluginError) as caught:
        make(name)
    assert "was refused" in caught.value.found
    assert reason in caught.value.found


def test_a_name_that_a_refused_plugin_wanted_too_still_serves():
    clash = Refusal(plugin="x", origin="x 1", reason="duplicate", offered=("difference",))
    assert make("difference", registry=Registry(entries=REGISTRY.entries, refused=(clash,)))


def test_options_that_do_not_fit_name_file_key_and_plugin():
    with pytest.raises(PluginError) as caught:
        make("fixed-level", {"levle": 7})
    assert caught.value.where == "outlet.yaml: detector.options.levle"
    assert "detector 'fixed-level' (alpha 1.0)" in caught.value.found
    assert "nearest known is 'level'" in caught.value.found


@pytest.mark.parametrize("error", [ZeroDivisionError("by nought"), SystemExit(3)])
def test_a_maker_that_breaks_is_named_whatever_it_raises(error):
    with pytest.raises(PluginError) as caught:
        make("sad", registry=failing(error))
    assert "detector 'sad' (alpha 1.0) could not be made" in caught.value.found
    assert type(error).__name__ in caught.value.found
    assert caught.value.where == "outlet.yaml: detector"


def test_a_maker_that_explains_itself_is_quoted():
    said = PluginError("level is above white", allowed="0 to 255", remedy="lower it")
    with pytest.raises(PluginError) as caught:
        make("sad", registry=failing(said))
    assert str(caught.value) == (
        "outlet.yaml: detector: level is above white; said by detector 'sad' (alpha 1.0); "
        "allowed: 0 to 255; lower it"
    )


def test_control_c_is_never_swallowed():
    with pytest.raises(KeyboardInterrupt):
        make("sad", registry=failing(KeyboardInterrupt()))


def test_something_that_is_no_detector_is_refused():
    registry = Registry(entries=(registered("odd", lambda options, view: 5),), refused=())
    with pytest.raises(PluginError, match="made a int, which is no detector"):
        make("odd", registry=registry)


def test_what_a_maker_prints_stays_out_of_the_commands_answer(capsys):
    def chatty(options: Level, view: View) -> Blind:
        print("loading weights")
        return Blind()

    make("chatty", registry=Registry(entries=(registered("chatty", chatty),), refused=()))
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "loading weights\n"


def test_rows_list_what_can_be_used_then_what_was_refused():
    rows = REGISTRY.rows()
    assert [(row.name, row.origin, row.refused) for row in rows] == [
        ("difference", "built-in", False),
        ("fixed-level", "alpha 1.0", False),
        ("torchy", "torchy 2.0", True),
        ("b", "beta 0.1", True),
    ]
    assert rows[0] == PluginRow(
        kind="detector",
        name="difference",
        origin="built-in",
        summary="about difference",
        refused=False,
        reason="",
    )
    assert rows[3].reason == "other API"
