"""Pours drawn at random that were once called clean with a wrong number."""

import tempfile
from pathlib import Path

import pytest

from viscount.offline import count
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.space import load_space
from viscount.values import Status

SPACE = Path(__file__).parents[2] / "fixtures" / "scene_space.yaml"


@pytest.mark.parametrize(
    "number",
    [
        pytest.param(5000, id="a speck of dust linked to a part's first sighting"),
        pytest.param(5020, id="a part whose regions a stub at the border shared"),
        pytest.param(5028, id="parts seen twice, in a stream denser than their steps"),
    ],
)
def test_no_clean_and_wrong_number(number: int) -> None:
    scene = load_space(SPACE).draw(number)
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(scene, Path(folder))
        tally = count(written.clip, outlet=written.outlet)
    assert tally.count == simulate(scene).truth.crossed or tally.status is not Status.CLEAN
