"""Exit statuses, as the programs that call ours read them."""

import json
import os
import signal
from pathlib import Path

import pytest
from commands import FIXTURES, call, called, started
from tallies import doubtful, invalid, tally

from viscount import offline
from viscount.errors import ExitStatus

CLIP = FIXTURES / "screws" / "clip.mp4"
OUTLET = FIXTURES / "screws" / "outlet.yaml"

PLUGIN = """
import sys, threading
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options
from viscount.values import Sighting

class Detector:
    def __init__(self, options, view):
        pass

    def prime(self, frames):
        print("primed")

    def see(self, frame, *, learn=True):
        {see}

@hookimpl
def viscount_detectors():
    return [Entry(api=1, name="odd", summary="for tests", options=Options, make=Detector)]
"""


def with_detector(folder: Path, see: str) -> dict[str, str]:
    """Lay a plugin out as an installer leaves it; return the environment that finds it."""
    info = folder / "odd-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Name: odd\nVersion: 1.0\n", encoding="utf-8")
    (info / "entry_points.txt").write_text("[viscount]\nodd = odd_detector\n", encoding="utf-8")
    (folder / "odd_detector.py").write_text(PLUGIN.replace("{see}", see), encoding="utf-8")
    return {**os.environ, "PYTHONPATH": str(folder)}


def test_numbers_are_those_of_the_contract() -> None:
    assert {status.name: int(status) for status in ExitStatus} == {
        "CLEAN": 0,
        "BAD_INPUT": 2,
        "DOUBTFUL": 10,
        "NOT_AS_EXPECTED": 11,
        "INVALID": 12,
        "INTERRUPTED": 130,
    }


@pytest.mark.parametrize(("expected", "status"), [(None, 0), (12, 0), (11, 11), (0, 11)])
def test_clean(expected: int | None, status: int) -> None:
    words = [] if expected is None else ["--expect", expected]
    answer = call("count", CLIP, "--outlet", OUTLET, "--json", *words)
    found = json.loads(answer.out)
    assert (found["count"], found["status"]) == (12, "clean")
    assert found["as_expected"] is (None if expected is None else expected == 12)
    assert answer.status == status


@pytest.mark.parametrize(
    ("made", "status", "as_expected"),
    [
        (tally(expected=4), 11, False),
        (doubtful(), 10, None),
        (doubtful(expected=3), 10, None),
        (doubtful(expected=9), 10, None),
        (invalid(), 12, None),
        (invalid(expected=3), 12, None),
    ],
)
@pytest.mark.parametrize("form", [(), ("--json",)])
def test_each_tally_has_its_status(
    made: object,
    status: int,
    as_expected: bool | None,
    form: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("viscount.cli.counting.offline_count", lambda *_, **__: made)
    answer = call("count", CLIP, *form)
    assert answer.status == status
    assert answer.err == ""
    if form:
        assert json.loads(answer.out)["as_expected"] is as_expected


def test_a_detector_that_breaks_ends_as_invalid_with_its_tally(tmp_path: Path) -> None:
    environment = with_detector(tmp_path, "raise RuntimeError('lens cap on')")
    answer = called(
        "count", CLIP, "--set", "detector.name=odd", "--json", env=environment, cwd=tmp_path
    )
    assert answer.status == 12
    found = json.loads(answer.out)
    assert found["count"] is None
    assert [reason["code"] for reason in found["reasons"]] == ["detector_failed"]
    assert "lens cap on" in found["reasons"][0]["text"]
    # What the plugin prints is kept out of the answer.
    assert answer.err == "primed\n"


def test_a_fault_of_the_program_is_1_and_prints_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr("viscount.cli.counting.offline_count", broken)
    answer = call("count", CLIP, "--json")
    assert answer.status == 1
    assert answer.out == ""
    assert "ZeroDivisionError: on purpose" in answer.err
    assert "please report" in answer.err


def test_interrupted(tmp_path: Path) -> None:
    """The detector says when it has begun, and would wait for ever."""
    wait = "print('begun', flush=True); threading.Event().wait()"
    process = started(
        "count",
        CLIP,
        "--json",
        "--set",
        "detector.name=odd",
        "--strip",
        tmp_path / "strip.png",
        env=with_detector(tmp_path, wait),
        cwd=tmp_path,
    )
    assert process.stderr is not None
    begun = [process.stderr.readline(), process.stderr.readline()]
    assert begun == ["primed\n", "begun\n"]
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err.splitlines() == [
        "viscount: interrupted before the end, so that there is no result; run it again"
    ]
    assert not (tmp_path / "strip.png").exists()


def test_interrupted_in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("viscount.cli.counting.offline_count", interrupted)
    answer = call("count", CLIP)
    assert (answer.status, answer.out) == (130, "")


def test_a_reader_that_has_gone_changes_no_status(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        answer = called(
            "count", CLIP, "--outlet", OUTLET, "--expect", 9, cwd=tmp_path, stdout=writing
        )
    finally:
        os.close(writing)
    assert (answer.status, answer.err) == (11, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_an_answer_that_cannot_be_written_is_a_failed_run(tmp_path: Path) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        answer = called("count", CLIP, "--outlet", OUTLET, cwd=tmp_path, stdout=full)
    assert answer.status == 12
    assert answer.err.startswith("viscount: standard output cannot be written")
    assert len(answer.err.splitlines()) == 1


def test_quiet_time_of_the_command_is_that_of_the_function() -> None:
    answer = call("count", "--help")
    assert f"[default: {offline.DEFAULT_QUIET_S}]" in " ".join(answer.out.split())
