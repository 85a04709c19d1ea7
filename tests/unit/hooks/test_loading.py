import subprocess
import sys
from collections.abc import Callable
from importlib import metadata
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from viscount.hooks.loading import BUILT_IN, load_plugins
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options


class Point:
    """An entry point whose plugin is at hand: no file, no import."""

    def __init__(self, name: str, distribution: str | None, plugin: object) -> None:
        self.name = name
        self.dist = (
            SimpleNamespace(metadata={"Name": distribution, "Version": "1.0"})
            if distribution
            else None
        )
        self._plugin = plugin

    def load(self) -> object:
        return self._plugin


def entry(name: str) -> Entry[Any]:
    return Entry(api=1, name=name, summary="s", options=Options, make=lambda options, view: None)


def plugin(*names: str, answer: Callable[[], Any] | None = None) -> ModuleType:
    module = ModuleType("p")

    @hookimpl
    def viscount_detectors() -> Any:
        return answer() if answer else [entry(name) for name in names]

    module.viscount_detectors = viscount_detectors  # type: ignore[attr-defined]
    return module


def load(*points: Point) -> Any:
    return load_plugins(points)  # type: ignore[arg-type]


@pytest.fixture(autouse=True)
def own_detectors(monkeypatch):
    """Stand-ins for our own detectors, so that these tests are about loading alone."""
    for module, kind in (("difference", "Difference"), ("mixture", "Mixture")):
        name = f"viscount.vision.{module}"
        fake = ModuleType(name)
        vars(fake)[f"{kind}Detector"] = lambda options, view: None
        vars(fake)[f"{kind}Options"] = Options
        monkeypatch.setitem(sys.modules, name, fake)


def test_built_ins_come_first_then_distributions_by_name_then_entry_points_by_name():
    registry = load(
        Point("p", "zeta", plugin("z")),
        Point("b", "Alpha_Plug", plugin("a-two")),
        Point("p", "alpha.plug-b", plugin("ab")),
        Point("a", "Alpha_Plug", plugin("a-one")),
    )
    assert registry.refused == ()
    assert [(one.entry.name, one.origin) for one in registry.detectors.values()] == [
        ("difference", BUILT_IN),
        ("mixture", BUILT_IN),
        ("a-one", "Alpha_Plug 1.0"),
        ("a-two", "Alpha_Plug 1.0"),
        ("ab", "alpha.plug-b 1.0"),
        ("z", "zeta 1.0"),
    ]


def test_the_order_in_which_entry_points_are_found_changes_nothing():
    points = [Point("p", name, plugin("same-name")) for name in ("c", "a", "b")]
    first, second = load(*points), load(*reversed(points))
    assert first.detectors["same-name"].origin == "a 1.0"
    assert [one.origin for one in first.refused] == ["b 1.0", "c 1.0"]
    assert [one.origin for one in second.refused] == ["b 1.0", "c 1.0"]


def test_a_name_taken_by_a_built_in_is_refused_and_the_built_in_stays():
    registry = load(Point("p", "thief", plugin("mine", "difference")))
    assert registry.detectors["difference"].origin == BUILT_IN
    assert "mine" not in registry.detectors
    (refusal,) = registry.refused
    assert refusal.reason == "the name 'difference' is already that of a detector from built-in"
    assert refusal.offered == ("mine", "difference")


def test_a_plugin_that_offers_one_name_twice_is_refused():
    (refusal,) = load(Point("p", "twin", plugin("one", "one"))).refused
    assert "already that of a detector from twin 1.0" in refusal.reason


def test_our_own_detectors_are_refused_like_any_other_when_they_cannot_be_imported(monkeypatch):
    monkeypatch.setitem(sys.modules, "viscount.vision.difference", None)
    registry = load(Point("p", "other", plugin("other")))
    assert list(registry.detectors) == ["other"]
    (refusal,) = registry.refused
    assert refusal.origin == BUILT_IN
    assert "ModuleNotFoundError" in refusal.reason


def test_a_plugin_without_a_distribution_is_taken_and_said_to_have_none():
    registry = load(Point("p", None, plugin("stray")))
    assert registry.detectors["stray"].origin == "a distribution without a name"


def test_an_instance_serves_as_well_as_a_module():
    class Plugin:
        @hookimpl
        def viscount_detectors(self):
            return [entry("from-instance")]

    assert "from-instance" in load(Point("p", "d", Plugin())).detectors


def test_a_hook_may_be_found_by_its_specname():
    class Plugin:
        @hookimpl(specname="viscount_detectors")
        def mine(self):
            return [entry("by-specname")]

    assert "by-specname" in load(Point("p", "d", Plugin())).detectors


def test_a_hook_of_a_coming_release_may_be_marked_as_optional():
    class Plugin:
        @hookimpl
        def viscount_detectors(self):
            return [entry("early")]

        @hookimpl(optionalhook=True)
        def viscount_passage(self, passage):
            raise AssertionError("nothing calls this yet")

    registry = load(Point("p", "d", Plugin()))
    assert registry.refused == ()
    assert "early" in registry.detectors


@pytest.mark.parametrize("stage", ["import", "hook"])
def test_control_c_is_never_swallowed(stage):
    def interrupt() -> Any:
        raise KeyboardInterrupt

    point = Point("p", "d", plugin(answer=interrupt))
    if stage == "import":
        point.load = interrupt  # type: ignore[method-assign]
    with pytest.raises(KeyboardInterrupt):
        load(point)


def test_what_plugins_print_while_loading_stays_out_of_the_commands_answer(capsys):
    def chatty() -> list[Entry[Any]]:
        print("hello")
        return [entry("chatty")]

    load(Point("p", "d", plugin(answer=chatty)))
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "hello\n"


def test_importing_this_room_loads_no_plugin_and_no_detector():
    program = (
        "import sys, importlib.metadata\n"
        "importlib.metadata.EntryPoint.load = None\n"
        "import viscount.hooks.loading\n"
        "late = {'cv2', 'scipy', 'viscount.vision', 'viscount.hooks.builtins'}\n"
        "print(sorted(late & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


def test_a_damaged_distribution_hides_no_other(tmp_path, monkeypatch):
    for name, lines in (
        ("aa", "[viscount]\nno equals sign\n"),
        ("bb", "[viscount]\np = bb_plugin\n"),
    ):
        info = tmp_path / f"{name}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Name: {name}\nVersion: 1.0\n", encoding="utf-8")
        (info / "entry_points.txt").write_text(lines, encoding="utf-8")
    (tmp_path / "bb_plugin.py").write_text("", encoding="utf-8")
    here = list(metadata.distributions(path=[str(tmp_path)]))
    monkeypatch.setattr(metadata, "distributions", lambda: here)
    monkeypatch.syspath_prepend(tmp_path)
    registry = load_plugins()
    reasons = {one.origin: one.reason for one in registry.refused}
    assert reasons["bb 1.0"] == "it has no function marked with @viscount.hookimpl"
    assert "cannot be imported" in reasons["aa 1.0"]
