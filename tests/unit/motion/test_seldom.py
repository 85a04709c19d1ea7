"""Parts that are seen too seldom to be followed for sure."""

from dataclasses import replace

import pytest
from steady_tracks import model, track

from viscount.codes import Code
from viscount.motion.parts import Usual
from viscount.motion.seldom import seen_twice
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track

PX_S, FRAME_S = 5000.0, 1 / 30
MODEL = replace(model(PX_S), interval_s=FRAME_S, ahead_px=6.0, behind_px=6.0)
KNOWN = MotionPrior(speed_px_s=PX_S)


def stream(*gaps_s: float, rows: int = 1) -> list[Track]:
    """Parts seen twice, in these gaps, side by side in rows that differ by a third of a ms."""
    when, tracks = 0.0, []
    for gap_s in (0.0, *gaps_s):
        when += gap_s
        tracks += [track(12.0, 120.0, at_s=when + row / 3000, sights=2) for row in range(rows)]
    return tracks


def doubted(parts: list[Track], spread: float, prior: MotionPrior) -> bool:
    look = Usual(
        area=120.0, crossed=9, area_spread=2.0, model=replace(MODEL, spread=spread), view=300.0
    )
    return [notice.code for notice in seen_twice(parts, look, prior)] == [Code.TOO_FEW_SIGHTINGS]


@pytest.mark.parametrize(
    ("spread", "prior", "doubt"),
    [
        (0.01, KNOWN, False),
        (0.28, KNOWN, True),  # by a frame and this spread each may be the one ahead
        (0.01, MotionPrior(), True),  # any number of spacings a frame would do
    ],
)
def test_five_spacings_a_frame_are_told_by_a_speed_that_all_share(
    spread: float, prior: MotionPrior, doubt: bool
) -> None:
    assert doubted(stream(*[0.0063] * 9), spread, prior) is doubt


def test_parts_side_by_side_are_no_neighbours_along_the_fall() -> None:
    assert not doubted(stream(*[0.0063] * 9, rows=3), 0.01, KNOWN)
    assert doubted(stream(*[0.0063] * 9, rows=3), 0.28, KNOWN)
    assert not doubted(stream(rows=4), 0.28, KNOWN)


def test_what_moves_less_than_half_a_spacing_is_its_own_neighbour() -> None:
    assert not doubted(stream(*[0.08] * 9), 0.28, MotionPrior())
