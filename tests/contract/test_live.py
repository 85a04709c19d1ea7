"""``viscount live``, as other programs call it."""

import json
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from commands import FIXTURES, call, called, started

from viscount.cli.running_line import line_of
from viscount.clock import Alarm
from viscount.errors import ExitStatus
from viscount.session.messages import BeamNow, Snapshot

CLIP = FIXTURES / "screws" / "clip.mp4"
OUTLET = FIXTURES / "screws" / "outlet.yaml"


def test_its_answer_is_the_tally_that_count_gives(tmp_path: Path) -> None:
    live = called(
        "live", CLIP, "--outlet", OUTLET, "--json", "--expect", 12, "--record", tmp_path / "new"
    )
    assert live.status == ExitStatus.CLEAN, live.err
    counted = json.loads(call("count", CLIP, "--outlet", OUTLET, "--json", "--expect", 12).out)
    told = json.loads(live.out)
    assert told.keys() == counted.keys()
    assert (told["count"], told["status"], told["as_expected"]) == (12, "clean", True)
    assert told["outlet"] == counted["outlet"]
    assert told["started_at"] is not None
    again = call("count", tmp_path / "new" / "clip.mp4", "--outlet", OUTLET, "--json")
    assert json.loads(again.out)["count"] == 12


def test_the_log_has_what_the_engine_says_too(tmp_path: Path) -> None:
    file = tmp_path / "log.txt"
    file.write_text("what was there\n", encoding="utf-8")
    words = ("live", CLIP, "--outlet", OUTLET, "--json")
    told = called("-v", "--log", file, *words)
    assert told.status == ExitStatus.CLEAN, told.err
    for text in (told.err, file.read_text(encoding="utf-8")):
        assert "INFO    viscount.cli: counting " in text
        assert "INFO    viscount.session: opening the camera, for the 1. time" in text
        assert "INFO    viscount.session: counting begins: " in text
        assert text.count("frames: 12, clean") == 1
    assert "DEBUG" not in told.err
    assert file.read_text(encoding="utf-8").startswith("what was there\n")
    assert called(*words).err == ""


def test_the_log_tells_how_the_engine_failed(tmp_path: Path) -> None:
    file = tmp_path / "log.txt"
    (tmp_path / "no.mp4").write_bytes(b"no clip")
    told = called("--log", file, "live", tmp_path / "no.mp4")
    assert told.status == ExitStatus.BAD_INPUT
    assert "Traceback" not in told.err
    text = file.read_text(encoding="utf-8")
    assert "DEBUG   viscount.session: the run failed as follows" in text
    assert "SourceError" in text


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_run_with_its_tally_and_its_files(
    number: signal.Signals, tmp_path: Path
) -> None:
    process = started(
        "live", CLIP, "--json", "--camera", "speed=0.02", "--record", tmp_path / "new.mp4"
    )
    partial = tmp_path / "new.partial.mp4"
    # The clip is created as its first picture comes.
    waiting = called_until(lambda: partial.exists() or process.poll() is not None)
    assert waiting, "no picture was recorded"
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    told = json.loads(out)
    assert told["schema"] == "viscount.tally/1"
    assert process.returncode in (ExitStatus.DOUBTFUL, ExitStatus.CLEAN, ExitStatus.INVALID), err
    assert process.returncode != ExitStatus.INTERRUPTED
    assert [path.name for path in tmp_path.iterdir()] == ["new.mp4"]


def called_until(true: Callable[[], bool]) -> bool:
    """Wait until something has come true."""
    alarm = Alarm()
    return any(true() or alarm.wait(0.02) for _ in range(2000))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([CLIP, "--for", "0"], "--for: a time of 0 s"),
        ([CLIP, "--quiet", "-1"], "--quiet: a time of -1 s"),
        ([CLIP, "--expect", "-1"], "an expected count of -1"),
        ([CLIP, "--record", "pour.avi"], "a recording named pour.avi"),
        ([CLIP, "--record", "no/such/folder.mp4"], "the folder is missing"),
        ([CLIP, "--camera", "sped=2"], "unknown key, nearest known is 'speed'"),
        ([CLIP, "--set", "view.line_pz=1"], "view.line_pz"),
        ([CLIP, "--beam-port", "usb:1"], "a port named 'usb:1'"),
    ],
)
def test_a_bad_call_is_said(words: list[object], said: str) -> None:
    answer = call("live", *words)
    assert answer.status == ExitStatus.BAD_INPUT
    assert said in answer.err
    assert "Traceback" not in answer.err
    assert answer.out == ""


def test_a_recording_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "beam.csv").write_text("mine", encoding="utf-8")
    answer = call("live", CLIP, "--record", tmp_path)
    assert answer.status == ExitStatus.BAD_INPUT
    assert "beam.csv is there already" in answer.err
    assert (tmp_path / "beam.csv").read_text(encoding="utf-8") == "mine"


NOW = Snapshot(
    t_s=12.34,
    count=7,
    frames=1481,
    dropped=0,
    rate_hz=119.9,
    blind_s=0.0,
    age_ms=11.6,
    queued=0,
    camera="on",
    beam=None,
    unrecorded=None,
)


def test_the_running_line_says_how_it_stands() -> None:
    assert line_of(NOW) == "   12.3 s | 7 parts | camera 120 frames/s, 12 ms"


def test_the_running_line_names_every_trouble() -> None:
    beam = BeamNow(linked=True, pulses=6, edges=12, lost=2, waiting=300)
    now = replace(NOW, count=1, dropped=3, blind_s=0.5, age_ms=400.0, beam=beam, unrecorded=9)
    assert line_of(now) == (
        "   12.3 s | 1 part | camera 120 frames/s, 400 ms (old) | 3 left out | blind 0.50 s | "
        "beam 6 pulses, 2 edges lost, 300 B waiting | recording lacks 9"
    )
    gone = replace(NOW, camera="no picture for 0.6 s", beam=replace(beam, linked=False))
    assert "camera: no picture for 0.6 s | beam no answer" in line_of(gone)


def test_a_camera_is_checked_by_recording_it_first() -> None:
    aim = f"replay:{CLIP}"
    live = called("check", aim, "--outlet", OUTLET, "--json", "--for", "0.5")
    told = json.loads(live.out)
    assert told["source"] == aim
    assert 55 <= told["clock"]["read"] <= 62
    assert told["schema"].startswith("viscount.check/")
