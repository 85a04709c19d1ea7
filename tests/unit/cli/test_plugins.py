import json
import sys
from importlib import metadata
from pathlib import Path

import pytest
from commands import call

from viscount.values import Falls

DETECTOR = """
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options
from viscount.testing import FakeDetector
from viscount.values import Sighting

class StepOptions(Options):
    step: float = 20.0
    blind: bool = False

class Blind:
    def prime(self, frames): pass
    def see(self, frame, *, learn=True):
        print("seen")
        return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=())

class Broken(Blind):
    def see(self, frame, *, learn=True):
        raise LookupError("no table")

def make(options, view):
    if options.step < 0:
        return Broken()
    if options.step == 0:
        raise LookupError("no table")
    return Blind() if options.blind else FakeDetector(view, step=options.step)

@hookimpl
def viscount_detectors():
    return [Entry(api=1, name="fixed-step", summary="a step", options=StepOptions, make=make)]
"""


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two distributions as an installer leaves them: one good, one that cannot be imported."""
    for name, module, text in (
        ("acme-detectors", "acme_detectors", DETECTOR),
        ("broken-detectors", "broken_detectors", "import no_such_module\n"),
    ):
        info = tmp_path / f"{module}-3.1.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Name: {name}\nVersion: 3.1\n", encoding="utf-8")
        points = f"[viscount]\n{module.replace('_', '-')} = {module}\n"
        (info / "entry_points.txt").write_text(points, encoding="utf-8")
        (tmp_path / f"{module}.py").write_text(text, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    search = metadata.distributions
    monkeypatch.setattr(metadata, "distributions", lambda: search(path=[str(tmp_path)]))
    yield
    for module in ("acme_detectors", "broken_detectors"):
        sys.modules.pop(module, None)


@pytest.mark.usefixtures("installed")
def test_list() -> None:
    answer = call("plugins")
    assert (answer.status, answer.err) == (0, "")
    lines = answer.out.splitlines()
    assert lines[0].startswith("detector difference (built-in): ")
    assert "detector fixed-step (acme-detectors 3.1): a step" in lines
    assert lines[-1].startswith("plugin broken-detectors (broken-detectors 3.1): REFUSED: ")
    assert "no_such_module" in lines[-1]


@pytest.mark.usefixtures("installed")
def test_list_for_programs() -> None:
    found = json.loads(call("plugins", "--json").out)
    assert found["schema"] == "viscount.plugins/1"
    rows = {row["name"]: row for row in found["plugins"]}
    assert list(rows["fixed-step"]) == ["kind", "name", "origin", "summary", "refused", "reason"]
    assert rows["fixed-step"]["origin"] == "acme-detectors 3.1"
    assert rows["fixed-step"]["refused"] is False
    assert rows["broken-detectors"]["refused"] is True
    assert "no_such_module" in rows["broken-detectors"]["reason"]


@pytest.mark.usefixtures("installed")
def test_list_on_a_terminal_fits() -> None:
    answer = call("plugins", on_terminal=True)
    assert "REFUSED" in answer.out
    assert "acme-detectors 3.1" in answer.out


@pytest.mark.usefixtures("installed")
def test_check_of_a_detector_that_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    # One direction is enough here: the kit has tests of its own.
    monkeypatch.setattr("viscount.cli.plugin_check.Falls", [Falls.LEFT])
    answer = call("plugins", "check", "fixed-step", "--set", "step=25")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.startswith("detector 'fixed-step' (acme-detectors 3.1) does what")


@pytest.mark.usefixtures("installed")
def test_check_of_one_that_does_not() -> None:
    answer = call("plugins", "check", "fixed-step", "--set", "blind=true")
    assert (answer.status, answer.out) == (12, "")
    # What it prints is kept out of the answer.
    *printed, message = answer.err.splitlines()
    assert set(printed) == {"seen"}
    assert message.startswith("viscount: detector 'fixed-step' (acme-detectors 3.1): A moving part")


@pytest.mark.usefixtures("installed")
def test_check_of_one_that_breaks() -> None:
    answer = call("plugins", "check", "fixed-step", "--set", "step=-1")
    assert answer.status == 12
    assert "see() raised LookupError('no table')" in answer.err
    assert "Traceback" not in answer.err


@pytest.mark.usefixtures("installed")
def test_check_of_one_that_cannot_be_made() -> None:
    answer = call("plugins", "check", "fixed-step", "--set", "step=0")
    assert answer.status == 2
    assert "could not be made: LookupError: no table" in answer.err


@pytest.mark.usefixtures("installed")
@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("fixed-stop",), "nearest known is 'fixed-step'"),
        (("broken-detectors",), "was refused"),
        (("fixed-step", "--set", "stop=3"), "detector.options.stop: unknown key"),
        (("fixed-step", "--set", "step"), "no equals sign"),
        (("fixed-step", "--only-dark", "--only-bright"), "together"),
    ],
)
def test_check_of_what_cannot_be_checked(words: tuple[str, ...], found: str) -> None:
    answer = call("plugins", "check", *words)
    assert (answer.status, answer.out) == (2, "")
    assert found in answer.err
    assert answer.err.count("\n") == 1


@pytest.mark.usefixtures("installed")
def test_check_can_leave_out_what_a_detector_does_not_claim(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = []
    monkeypatch.setattr(
        "viscount.cli.plugin_check.check_detector",
        lambda make, **switches: asked.append(switches),
    )
    call("plugins", "check", "difference", "--only-dark", "--lead-in", "9")
    assert [one["falls"].value for one in asked] == ["down", "up", "left", "right"]
    assert all(one["dark_parts"] and not one["bright_parts"] for one in asked)
    assert {one["lead_in"] for one in asked} == {9}
