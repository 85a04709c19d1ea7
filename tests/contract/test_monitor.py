"""`viscount monitor` and `--window` where no window can be opened, and calls that are wrong."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from commands import FIXTURES, call

from viscount.errors import ExitStatus

CLIP = FIXTURES / "screws" / "clip.mp4"


def without_display(*words: object) -> "subprocess.CompletedProcess[str]":
    """Call the program where there is no display, whether Qt is installed or not."""
    gone = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    return subprocess.run(
        [sys.executable, "-m", "viscount", *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={name: value for name, value in os.environ.items() if name not in gone},
        timeout=60,
        check=False,
    )


def test_a_recording_cannot_be_played_without_a_display() -> None:
    answer = without_display("monitor", CLIP)
    assert answer.returncode == ExitStatus.BAD_INPUT
    assert answer.stdout == ""
    assert answer.stderr.startswith("viscount: a window needs ")
    assert answer.stderr.count("\n") == 1
    assert "Traceback" not in answer.stderr


def test_no_run_begins_without_the_window_that_was_asked_for() -> None:
    answer = without_display("live", CLIP, "--window")
    assert answer.returncode == ExitStatus.BAD_INPUT
    assert answer.stdout == ""
    assert "a window needs " in answer.stderr


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--speed", "0"), "a speed of 0; allowed: 0.001 to 100"),
        (("--theme", "pink"), "no theme is called 'pink'; allowed: dark or light"),
        (("--strokes", "nowhere.csv"), "the strokes cannot be read"),
    ],
)
def test_a_bad_call_is_said_before_anything_else(more: tuple[str, ...], said: str) -> None:
    answer = call("monitor", CLIP, *more)
    assert answer.status == ExitStatus.BAD_INPUT
    assert said in answer.err
    assert "Traceback" not in answer.err


def test_packing_with_a_window_and_without_a_display_moves_nothing(tmp_path: Path) -> None:
    (tmp_path / "outlet.yaml").write_text(
        "view: {line_px: 80, scale_px_per_mm: 4.0, lip_px: 0.0}\ngate: {below_lip_mm: 5.0}\n",
        encoding="utf-8",
    )
    answer = without_display(
        *("pack", CLIP, "--outlet", tmp_path / "outlet.yaml", "--each", 6, "--bags", 1),
        *("--beam-port", tmp_path / "port", "--journal", tmp_path / "bags.jsonl", "--window"),
    )
    assert answer.returncode == ExitStatus.BAD_INPUT
    assert "a window needs " in answer.stderr
    assert not (tmp_path / "bags.jsonl").exists()
