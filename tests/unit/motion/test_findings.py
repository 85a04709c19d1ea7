"""What there is to say of a pour as a whole."""

import pytest
from steady_tracks import model, track

from viscount.codes import Code
from viscount.motion.findings import findings
from viscount.motion.parts import Usual
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track

LOOK = Usual(area=1400.0, crossed=9, area_spread=20.0, model=model(), view=480.0)


def codes(parts: list[Track], surprise: float | None) -> list[Code]:
    return [
        notice.code
        for notice in findings(parts, parts, LOOK, MotionPrior(), surprise, 160.0, decided=True)
    ]


@pytest.mark.parametrize(
    ("parts", "surprise", "unlikely"),
    [
        (2, 4.9, False),  # five is about what chance brings, however few the sightings
        (2, 5.1, True),
        (10, 8.9, False),  # of sixty sightings 15 % may surprise by one
        (10, 9.1, True),
        (10, None, False),
    ],
)
def test_paths_that_surprise_more_than_chance_does_are_doubted(
    parts: int, surprise: float | None, unlikely: bool
) -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(parts)]
    assert (Code.PATHS_UNLIKELY in codes(pour, surprise)) is unlikely
