"""Pours drawn at random that were once counted wrong, or needlessly doubted.

Each file says what it was about. What the truth calls separable must be clean and exact; nothing
may be clean and wrong.
"""

import json
import tempfile
from pathlib import Path

import pytest

from viscount.offline import count
from viscount.simulate.pour import write_pour
from viscount.simulate.scene.loading import load_scene
from viscount.values import Status

DRAWN = sorted((Path(__file__).parent / "drawn").glob("*.yaml"))
READY = Path(__file__).parents[2] / "fixtures" / "scenes"
SHAKEN = READY / "feeder-shake-strong.yaml"


@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_a_pour_drawn_at_random(path: Path) -> None:
    """With its outlet file, and with line and direction alone."""
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(load_scene(path), Path(folder))
        truth = json.loads(written.truth.read_text(encoding="utf-8"))
        bare = [f"view.falls={truth['falls']}", f"view.line_px={truth['line_px']:g}"]
        tallies = {
            "with_outlet": count(written.clip, outlet=written.outlet),
            "bare": count(written.clip, settings=bare),
        }
    true = sum(part["line_t_ns"] is not None for part in truth["parts"])  # none turns back
    for mode, tally in tallies.items():
        exact = tally.count == true
        if truth["separable"][mode]:
            assert (exact, tally.status) == (True, Status.CLEAN)
        assert exact or tally.status is not Status.CLEAN


@pytest.mark.parametrize(
    "name",
    [
        *(
            "column-60-30",
            "torn-frames",
            "bag-sways",
            "hand",
            "hand-in-pour",
            "bounce",
            "gate-blow",
        ),
        *("gate-held", "gate-pinch", "stuck-part", "moving-background"),
    ],
)
def test_a_ready_scene_that_was_once_doubted(name: str) -> None:
    """Six spacings a step; torn pictures; bag and hands in the view; parts that meet, that stop on
    the blade, on another or above the line; a blow; a background that creeps along."""
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(load_scene(READY / f"{name}.yaml"), Path(folder))
        tally = count(written.clip, outlet=written.outlet)
        truth = json.loads(written.truth.read_text(encoding="utf-8"))
    true = sum(part["line_t_ns"] is not None for part in truth["parts"])
    assert (tally.count, tally.status) == (true, Status.CLEAN)


def test_there_are_some() -> None:
    assert len(DRAWN) > 8


def test_a_speed_five_times_too_high_pays_for_the_parts_that_it_makes_up() -> None:
    """Each of them is seen twice and surprises nobody, while the true paths shake by 3 px."""
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(load_scene(SHAKEN), Path(folder))
        assert count(written.clip, outlet=written.outlet).count == 15
