"""``viscount strokes`` with the clocks of a tally in the place of a lamp."""

import json
from pathlib import Path

import numpy as np
import pytest
from commands import FIXTURES, call
from filmed_gates import (
    ABOVE_BLADE,
    FilmedGate,
    filmed_beside_a_beam,
    log_of_the_beams_board,
)

from viscount.devices.triggers.strokes import read_strokes


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> FilmedGate:
    return filmed_beside_a_beam(tmp_path_factory.mktemp("filmed"))


@pytest.fixture(scope="module")
def tally(filmed: FilmedGate) -> Path:
    """The parts of the same clip, counted beside the board's beam log."""
    region = f"view.region_px={json.dumps(ABOVE_BLADE)}"
    height = ("--set", "beam.below_lip_mm=null", "--set", "beam.at_px=30", "--set", region)
    words = ("count", filmed.clip, "--outlet", filmed.outlet, "--beam", filmed.beam, *height)
    told = call(*words, "--json")
    assert told.status == 0
    path = filmed.clip.with_name("tally.json")
    path.write_text(told.out, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def board(filmed: FilmedGate) -> Path:
    return log_of_the_beams_board(filmed, filmed.clip.with_name("board.csv"))


def words(filmed: FilmedGate, board: Path, tally: Path, out: Path) -> list[object]:
    asked = ["strokes", filmed.clip, "--outlet", filmed.outlet, "--blade-px", *filmed.box]
    return [*asked, "--gate-log", board, "--tally", tally, "--out", out]


def test_a_tally_of_the_clip_stands_in_for_a_lamp(
    filmed: FilmedGate, board: Path, tally: Path, tmp_path: Path
) -> None:
    out = tmp_path / "strokes.csv"
    answer = call(*words(filmed, board, tally, out), "--within-ms", 1.0)
    assert answer.status == 0, answer.err
    assert "6 strokes" in answer.out
    read = read_strokes(out)
    # As sure as the beam's height, of which the parts fall past a millimetre in 1.4 ms.
    assert 0.4e-3 < read.sigma_s < 0.8e-3
    true = filmed.blade.strokes
    reach = read.shutting.begins_s - [s.reach_s - s.commanded_s for s in true]
    shut = read.shutting.done_s - [s.shut_s - s.commanded_s for s in true]
    assert np.abs([*reach, *shut]).max() < 2.5 * read.sigma_s


def test_clocks_less_sure_than_asked_for_are_told(
    filmed: FilmedGate, board: Path, tally: Path, tmp_path: Path
) -> None:
    answer = call(*words(filmed, board, tally, tmp_path / "strokes.csv"))
    assert (answer.status, answer.out) == (12, "")
    said = " ".join(answer.err.split())
    assert "no stroke that shuts is known to 0.5 ms" in said
    assert "the commands themselves are known to 0.6" in said
    assert "--lamp-px" in said
    assert "frames a second" not in said


def test_a_log_on_the_capture_clock_needs_no_clocks_of_a_tally(
    filmed: FilmedGate, tally: Path, tmp_path: Path
) -> None:
    out = tmp_path / "strokes.csv"
    assert call(*words(filmed, filmed.log, tally, out)).status == 0
    assert read_strokes(out).sigma_s < 0.35e-3


def without_beam(told: dict) -> None:  # type: ignore[type-arg]
    told["agreement"] = None


def of_another_clip(told: dict) -> None:  # type: ignore[type-arg]
    told["source"] = "other.mp4"


def unclocked(told: dict) -> None:  # type: ignore[type-arg]
    told["agreement"]["clock_offset_s"] = None


def restarted(told: dict) -> None:  # type: ignore[type-arg]
    told["agreement"]["pulses"][-1]["epoch"] = 1


def ambiguous(told: dict) -> None:  # type: ignore[type-arg]
    told["reasons"].append({"code": "clocks_ambiguous", "text": "two offsets"})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (without_beam, "does not tell how the board's clock stands"),
        (unclocked, "does not tell how the board's clock stands"),
        (restarted, "does not tell how the board's clock stands"),
        (ambiguous, "does not tell how the board's clock stands"),
        (of_another_clip, "a tally of other.mp4"),
    ],
)
def test_a_tally_that_does_not_tell_the_clocks_is_refused(
    filmed: FilmedGate,
    board: Path,
    tally: Path,
    tmp_path: Path,
    change,
    said: str,  # type: ignore[no-untyped-def]
) -> None:
    told = json.loads(tally.read_text(encoding="utf-8"))
    change(told)
    path = tmp_path / "tally.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    answer = call(*words(filmed, board, path, tmp_path / "strokes.csv"), "--within-ms", 1.0)
    assert (answer.status, answer.out) == (2, "")
    assert said in " ".join(answer.err.split())


def test_a_file_that_is_no_tally(filmed: FilmedGate, board: Path, tmp_path: Path) -> None:
    outlet = FIXTURES / "screws" / "outlet.yaml"
    answer = call(*words(filmed, board, outlet, tmp_path / "strokes.csv"))
    assert answer.status == 2
    assert "is no tally" in answer.err
