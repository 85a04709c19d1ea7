"""Where the beam is, from what the outlet file says."""

import math
from dataclasses import replace

import pytest
from counting import outlet
from tallies import SET_UP, passage

from viscount.counters.beam_place import beam_place
from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.measure.heights import SIGMA_MM, SIGMA_PX, height_below_line
from viscount.values import Falls

PASSAGES = (passage(1, 0.5).passage,)


@pytest.mark.parametrize(
    ("falls", "at_px", "below_px"),
    [(Falls.DOWN, 120.0, 40.0), (Falls.UP, 30.0, 50.0), (Falls.LEFT, 90.0, -10.0)],
)
def test_a_place_in_the_picture(falls: Falls, at_px: float, below_px: float):
    place = beam_place(outlet(beam={"at_px": at_px}), replace(SET_UP, falls=falls), PASSAGES)
    assert place.below_line_px == below_px
    assert (place.sigma_px, place.known) == (1.0, True)


def test_a_height_below_the_lip():
    view = {"lip_px": -40.0, "scale_px_per_mm": 4.0}
    place = beam_place(outlet(view=view, beam={"below_lip_mm": 20.0}), SET_UP, PASSAGES)
    assert place.below_line_px == -40.0
    # The ruler's own mm, the pixel by which the lip may be off, and a camera that leans: lines at
    # 80 and -40 px are 30 mm apart, 300 mm over the tangent of 3 degrees are 5724.
    leaning_px = 4.0 * 30.0**2 / 5724.34
    expected = math.hypot(4.0 * SIGMA_MM, SIGMA_PX, leaning_px)
    assert place.sigma_px == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("view", [{}, {"lip_px": -40.0}])
def test_what_leaves_the_height_unknown(view: dict[str, float]):
    set_up = SET_UP if view == {} else replace(SET_UP, scale_px_per_mm=None)
    place = beam_place(outlet(view=view, beam={"below_lip_mm": 20.0}), set_up, PASSAGES)
    assert not place.known
    assert place.speed_px_s(PASSAGES[0]) == 6000.0


def test_no_beam_section_is_a_thin_beam_of_unknown_height():
    place = beam_place(outlet(), SET_UP, PASSAGES)
    assert not place.known
    assert place.law.width == 0.0


def test_a_height_above_where_parts_fell_from_is_none():
    g = STANDARD_GRAVITY_MM_S2 * 4.0
    falling = replace(SET_UP, acceleration_px_s2=g)
    # 6000 px/s are reached 459 px below the place of rest.
    assert beam_place(outlet(beam={"at_px": -300.0}), falling, PASSAGES).known
    assert not beam_place(outlet(beam={"at_px": -400.0}), falling, PASSAGES).known


def test_speed_at_the_beam_is_that_of_the_fall():
    g = STANDARD_GRAVITY_MM_S2 * 4.0
    place = beam_place(outlet(beam={"at_px": 180.0}), replace(SET_UP, acceleration_px_s2=g), ())
    assert place.speed_px_s(PASSAGES[0]) == pytest.approx((6000.0**2 + 2 * g * 100.0) ** 0.5)


@pytest.mark.parametrize("scale", [4.0, None])
@pytest.mark.parametrize("beam", [{"at_px": 133.0}, {"below_lip_mm": 17.0}])
@pytest.mark.parametrize("falls", [Falls.DOWN, Falls.LEFT])
def test_both_counters_and_the_gate_take_the_same_height(
    falls: Falls, beam: dict[str, float], scale: float | None
):
    made = outlet(view={"lip_px": -40.0}, beam=beam)
    set_up = replace(SET_UP, falls=falls, scale_px_per_mm=scale)
    place, height = beam_place(made, set_up, ()), height_below_line("beam", made, set_up)
    if height is None:
        assert place.below_line_px is None
    else:
        below, sigma = height.in_px(scale)
        assert place.below_line_px == below
        # A leaning camera is the counters' own matter.
        assert sigma <= place.sigma_px < 1.1 * sigma
