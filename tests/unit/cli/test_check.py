"""The command ``check``: its words, its JSON and its exit status."""

import contextlib
import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import typer
from commands import FIXTURES, Answer, Terminal

from viscount.cli.check import check
from viscount.cli.ending import Commands

CLIP = FIXTURES / "screws" / "clip.mp4"
OUTLET = FIXTURES / "screws" / "outlet.yaml"

app = typer.Typer(cls=Commands, rich_markup_mode=None, pretty_exceptions_enable=False)
app.command()(check)


@app.callback()
def group() -> None:
    """Make the one command a command of a group, as the program has it."""


def call(*words: object, on_terminal: bool = False) -> Answer:
    out, err = (Terminal() if on_terminal else io.StringIO() for _ in range(2))
    status = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            typer.main.get_command(app).main(["check", *map(str, words)], prog_name="viscount")
        except SystemExit as end:
            status = int(end.code or 0)
    return Answer(status=status, out=out.getvalue(), err=err.getvalue())


def test_a_healthy_clip():
    answer = call(CLIP, "--outlet", OUTLET)
    assert answer.status == 0, answer.out
    assert answer.out.startswith("nothing found that would spoil a count\n")
    assert "to do" not in answer.out
    for label in ("frames", "clock", "light", "noise", "contrast", "blur", "parts", "seen"):
        assert f"\n{label} " in answer.out


def test_json_is_one_object_on_one_line():
    answer = call(CLIP, "--outlet", OUTLET, "--json")
    assert answer.status == 0
    assert answer.out.count("\n") == 1
    found = json.loads(answer.out)
    assert found["schema"] == "viscount.check/1"
    assert found["status"] == "clean"
    assert found["findings"] == []
    assert found["outlet"]["name"] == str(OUTLET)
    assert found["motion"]["parts"] == 12


def test_what_costs_accuracy_ends_in_10_with_a_remedy():
    answer = call(CLIP, "--outlet", OUTLET, "--set", "view.line_px=2")
    assert answer.status == 10
    assert answer.out.startswith("line near edge: costs accuracy\nfound ")
    assert "(expected: " in answer.out
    assert "to do: move the line" in answer.out


def test_what_makes_counting_impossible_ends_in_12():
    rolling = ("--set", "camera.line_time_us=400", "--set", "camera.readout=down")
    answer = call(CLIP, "--outlet", OUTLET, *rolling)
    assert answer.status == 12
    assert "readout keeps pace" in answer.out.splitlines()[0]
    assert "\nrefused " in answer.out


def test_on_a_terminal():
    answer = call(CLIP, "--outlet", OUTLET, on_terminal=True)
    assert answer.status == 0
    assert "nothing found that would spoil a count" in answer.out


@pytest.mark.parametrize("words", [("nothing.mp4",), (CLIP, "--outlet", "nothing.yaml")])
def test_what_cannot_be_read_ends_in_2(words: tuple[object, ...]):
    answer = call(*words)
    assert answer.status == 2
    assert answer.out == ""
    assert "nothing." in answer.err


def test_a_clip_without_parts(write_clip: Callable[..., Path]):
    rng = np.random.default_rng(1)
    pictures = [rng.normal(150, 2, (60, 80)).astype(np.uint8) for _ in range(40)]
    clip = write_clip("empty.mkv", pictures, [round(i * 1000 / 120) for i in range(40)])
    answer = call(clip, "--json")
    found = json.loads(answer.out)
    assert answer.status == 10
    assert [one["code"] for one in found["findings"]] == ["nothing_seen"]
