"""Sightings and room, standing things, and gaps."""

import numpy as np
import pytest

from viscount.measure.gaps import followers, gaps_px, spacings_px
from viscount.measure.room import room
from viscount.measure.standing import standing
from viscount.values import Basis, Direction, Passage


def test_a_belt_shows_a_part_once_for_each_step():
    around = room(
        top_px=-100.0,
        bottom_px=60.0,
        length_px=40.0,
        speed_px_s=2000.0,
        acceleration_px_s2=0.0,
        interval_s=0.01,
    )
    # 160 px less the part's 40, in steps of 20.
    assert around.whole_sightings == pytest.approx(6.0)
    assert (around.before_px, around.after_px, around.step_px) == (80.0, 40.0, 20.0)


def test_a_part_longer_than_the_view_is_never_whole():
    around = room(
        top_px=-50.0,
        bottom_px=50.0,
        length_px=120.0,
        speed_px_s=2000.0,
        acceleration_px_s2=0.0,
        interval_s=0.01,
    )
    assert around.whole_sightings == 0.0


def test_what_looks_like_a_part_and_stays():
    level = np.full((200, 120), 150, np.float32) + np.linspace(0, 30, 120, dtype=np.float32)
    level[50:80, 40:52] -= 100
    (found,) = standing(level, area_px=360.0, contrast=100.0)
    assert (found.x_px, found.y_px) == pytest.approx((45.5, 64.5))
    assert standing(level, area_px=100.0, contrast=100.0) == ()
    assert standing(level[:, 45:], area_px=210.0, contrast=100.0) == ()


def passage(number: int, t_ms: float, across_px: float, length_px: float | None) -> Passage:
    return Passage(
        id=number,
        t_ns=round(t_ms * 1e6),
        sigma_ns=1,
        direction=Direction.WITH,
        basis=Basis.INTERPOLATED,
        speed_px_s=5000.0,
        across_px=across_px,
        length_px=length_px,
        parts=1,
        doubt=0.0,
        first_frame=0,
        last_frame=1,
    )


def test_gaps_are_between_parts_of_one_lane():
    lanes = [
        passage(1, 0.0, 30.0, 60.0),
        passage(2, 5.0, 90.0, None),
        passage(3, 20.0, 33.0, 60.0),
        passage(4, 25.0, 88.0, 60.0),
    ]
    pairs = followers(lanes, 16.0)
    assert [(a.id, b.id) for a, b in pairs] == [(1, 3), (2, 4)]
    assert spacings_px(pairs) == pytest.approx([100.0, 100.0])
    assert gaps_px(pairs) == pytest.approx([40.0])
