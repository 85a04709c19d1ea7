"""Spacing, interval and gap of a tally, at the line."""

from dataclasses import replace

import numpy as np
import pytest
from counting import outlet
from tallies import SET_UP, passage, tally

from viscount.measure.lengths import EDGE_PX
from viscount.measure.poured import pours_of_tally
from viscount.measure.spacing import spacing_at_line, spread
from viscount.tally import CountedPassage, SpacingTally
from viscount.values import Direction

BELT = outlet(
    motion={"kind": "belt"},
    view={"scale_px_per_mm": 4.0},
    camera={"exposure_us": 0.001},
)
SEEN = 32.0 + EDGE_PX
"""8 mm at 4 px/mm, and the pixels that both ends darken a little."""


def one(t_ms: float, *, pour: int = 1, **changes: object) -> CountedPassage:
    made = passage(round(10 * t_ms), 1e-3 * t_ms, **{"length_px": SEEN, **changes})
    return replace(made, pour=pour)


def found(*passages: CountedPassage, scale: float | None = 4.0) -> SpacingTally | None:
    set_up = replace(SET_UP, scale_px_per_mm=scale)
    made = tally((), passages=passages, set_up=set_up)
    return spacing_at_line(pours_of_tally(made, BELT))


def test_a_belt_of_boxes() -> None:
    # Boxes of 8 mm every 8 ms at 1.5 m/s: 12 mm apart, 4 mm or 2.667 ms clear.
    belt = found(*[one(8.0 * k) for k in range(6)])
    assert belt is not None
    assert belt.n == 5
    assert belt.interval_ms.p50 == pytest.approx(8.0)
    assert belt.spacing_mm.p50 == pytest.approx(12.0)
    assert belt.gap_ms.min == pytest.approx(8.0 - 8.0 / 1.5, abs=1e-4)


def test_pours_are_not_joined() -> None:
    apart = found(one(0), one(10), one(5000, pour=2), one(5020, pour=2), scale=None)
    assert apart.n == 2
    assert apart.interval_ms.max == pytest.approx(20.0)
    assert apart.spacing_mm is None


def test_what_goes_up_or_is_not_counted_is_no_neighbour() -> None:
    up = one(4.0, direction=Direction.AGAINST, speed_px_s=-100.0)
    both = found(one(0), up, one(6.0, parts=0), one(10))
    assert both.n == 1
    assert both.interval_ms.p50 == pytest.approx(10.0)


def test_one_part_has_no_spacing() -> None:
    assert found(one(0)) is None
    assert found() is None


def test_no_length_no_gap() -> None:
    bare = found(one(0, length_px=None), one(8, length_px=None))
    assert bare.gap_ms is None
    assert bare.interval_ms is not None


def test_percentiles_leave_out_what_is_unknown() -> None:
    assert spread(np.array([1.0, np.nan, 3.0])).p50 == 2.0
    assert spread(np.array([np.nan])) is None
