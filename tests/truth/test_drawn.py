"""Pours drawn at random that were once counted wrong, or needlessly doubted.

Each file says what it was about. What the truth calls separable must be clean and exact; nothing
may be clean and wrong.
"""

import tempfile
from pathlib import Path

import pytest

from viscount.offline import count
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene.loading import load_scene
from viscount.values import Status

DRAWN = sorted((Path(__file__).parent / "drawn").glob("*.yaml"))
SHAKEN = Path(__file__).parents[2] / "fixtures" / "scenes" / "feeder-shake-strong.yaml"


@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_a_pour_drawn_at_random(path: Path) -> None:
    scene = load_scene(path)
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(scene, Path(folder))
        tally = count(written.clip, outlet=written.outlet)
    truth = simulate(scene).truth
    exact = tally.count == truth.crossed
    if truth.separable.with_outlet:
        assert (exact, tally.status) == (True, Status.CLEAN)
    assert exact or tally.status is not Status.CLEAN


def test_there_are_some() -> None:
    assert len(DRAWN) > 8


def test_a_speed_five_times_too_high_pays_for_the_parts_that_it_makes_up() -> None:
    """Each of them is seen twice and surprises nobody, while the true paths shake by 3 px."""
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(load_scene(SHAKEN), Path(folder))
        assert count(written.clip, outlet=written.outlet).count == 15
