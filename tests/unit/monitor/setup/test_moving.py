"""Marks are placed, dragged, nudged, turned and cleared, and each step can be taken back."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.monitor.setup.gripping import Grip, Handle, grip_at
from viscount.monitor.setup.marks import Height, Mark, Marks, Ruler
from viscount.monitor.setup.moving import (
    begun,
    can_clear,
    cleared,
    dropped,
    framed,
    grabbed,
    let_be,
    measured,
    nudged,
    placed,
    pulled,
    turned,
)
from viscount.monitor.setup.settings import outlet_now
from viscount.monitor.setup.state import SetUp, redone, selecting, set_up, undone
from viscount.outlet import BeamSettings, Outlet
from viscount.values import Falls

START = set_up(480, 160)


def dragged(setup: SetUp, mark: Mark, handle: Handle, right: float, down: float) -> SetUp:
    held = grabbed(setup, Grip(mark=mark, handle=handle))
    # On the way elsewhere: only where it is dropped counts.
    return dropped(pulled(pulled(held, 3 * right + 1, -down), right, down))


@pytest.mark.parametrize("mark", [Mark.LINE, Mark.LIP, Mark.BEAM, Mark.BLADE])
def test_a_line_is_placed_and_dragged_along_the_fall(mark: Mark) -> None:
    setup = dropped(pulled(begun(START, mark, 70.0, 200.04), 5.0, 10.0))
    assert setup.now.place_px(mark) == 210.0
    assert setup.selected is mark
    moved = dragged(setup, mark, Handle.WHOLE, 40.0, -20.5)
    assert moved.now.place_px(mark) == 189.5
    assert undone(moved).now == setup.now
    assert undone(undone(moved)).now == START.now


def test_a_box_is_begun_at_one_corner_and_dragged_to_the_other() -> None:
    pressed = begun(START, Mark.REGION, 100.2, 299.8)
    assert pressed.now.region == (101, 300, 102, 301)
    setup = dropped(pulled(pressed, -60.0, -250.0))
    assert setup.now.region == (41, 50, 101, 300)
    assert undone(setup).now.region is None


@pytest.mark.parametrize(
    ("handle", "box"),
    [
        (Handle.WHOLE, (25, 38, 85, 98)),
        (Handle.X0, (25, 40, 80, 100)),
        (Handle.X1, (20, 40, 85, 100)),
        (Handle.Y0, (20, 38, 80, 100)),
        (Handle.Y1, (20, 40, 80, 98)),
        (Handle.X1Y0, (20, 38, 85, 100)),
    ],
)
def test_a_box_is_dragged_by_edge_corner_or_whole(
    handle: Handle, box: tuple[int, int, int, int]
) -> None:
    setup = framed(START, Mark.LAMP, (20, 40, 80, 100))
    assert dragged(setup, Mark.LAMP, handle, 5.2, -1.9).now.lamp == box


@given(
    right=st.floats(-1000, 1000),
    down=st.floats(-1000, 1000),
    handle=st.sampled_from([h for h in Handle if h not in (Handle.START, Handle.END)]),
    box=st.tuples(st.integers(-9, 170), st.integers(-9, 490), st.integers(-9, 170), st.integers()),
)
def test_a_box_always_holds_a_pixel_and_stays_in_the_picture(
    right: float, down: float, handle: Handle, box: tuple[int, int, int, int]
) -> None:
    setup = dragged(framed(START, Mark.REGION, box), Mark.REGION, handle, right, down)
    assert setup.now.region is not None
    x0, y0, x1, y1 = setup.now.region
    assert 0 <= x0 < x1 <= 160
    assert 0 <= y0 < y1 <= 480
    assert outlet_now(setup).view.region_px == setup.now.region


def test_the_line_stays_in_the_picture_and_the_lip_may_leave_it() -> None:
    assert placed(START, Mark.LINE, 999.0).now.line_px == 479.0
    assert placed(START, Mark.LINE, -3.0).now.line_px == 0.0
    assert placed(START, Mark.LIP, -120.0).now.lip_px == -120.0


def test_escape_leaves_all_as_it_was() -> None:
    setup = placed(START, Mark.LINE, 300.0)
    held = pulled(grabbed(setup, Grip(mark=Mark.LINE, handle=Handle.WHOLE)), 0.0, 50.0)
    assert held.now.line_px == 350.0
    assert let_be(held) == setup
    assert let_be(pulled(begun(setup, Mark.LAMP, 5.0, 5.0), 9.0, 9.0)).now == setup.now


def test_a_click_on_a_mark_is_no_step() -> None:
    setup = placed(START, Mark.LINE, 300.0)
    assert dropped(grabbed(setup, Grip(mark=Mark.LINE, handle=Handle.WHOLE))).past == setup.past


def test_nudges_in_a_row_are_one_step() -> None:
    setup = placed(START, Mark.LINE, 300.0)
    for _ in range(5):
        setup = nudged(setup, 7, 1)
    assert setup.now.line_px == 305.0
    assert undone(setup).now.line_px == 300.0
    other = nudged(placed(setup, Mark.LIP, 10.0), 0, -10)
    assert other.now.lip_px == 0.0
    assert undone(other).now.lip_px == 10.0
    again = nudged(undone(setup), 0, 1)
    assert undone(again).now.line_px == 300.0


def test_open_or_no_marks_are_not_nudged() -> None:
    assert nudged(START, 0, 1) is START
    assert nudged(selecting(START, None), 0, 1).now == START.now


def test_a_segment_of_known_length_tells_the_scale() -> None:
    setup = dropped(pulled(begun(START, Mark.SCALE, 40.0, 120.0), 0.0, 160.0))
    assert setup.now.scale_px_per_mm is None
    setup = measured(setup, 40.0)
    assert setup.now.scale_px_per_mm == 4.0
    longer = dragged(setup, Mark.SCALE, Handle.END, 0.0, 40.0)
    assert longer.now.scale_px_per_mm == 5.0
    shorter = dragged(setup, Mark.SCALE, Handle.START, 0.0, 80.0)
    assert shorter.now.scale_px_per_mm == 2.0
    aside = dragged(setup, Mark.SCALE, Handle.WHOLE, 30.0, -20.0)
    assert aside.now.scale_px_per_mm == 4.0
    assert aside.now.ruler == Ruler(x0_px=70.0, y0_px=100.0, x1_px=70.0, y1_px=260.0, mm=40.0)


def test_a_segment_is_not_cut_short_at_the_border() -> None:
    setup = measured(dropped(pulled(begun(START, Mark.SCALE, 40.0, 120.0), 0.0, 160.0)), 40.0)
    assert dragged(setup, Mark.SCALE, Handle.WHOLE, 0.0, 900.0).now == setup.now


@pytest.mark.parametrize("mm", [0.0, -1.0, float("nan")])
def test_a_length_that_is_none_changes_nothing(mm: float) -> None:
    setup = dropped(pulled(begun(START, Mark.SCALE, 40.0, 120.0), 0.0, 160.0))
    assert measured(setup, mm) is setup


def test_turning_round_keeps_the_places_and_turning_aside_the_share_of_the_way() -> None:
    setup = placed(placed(START, Mark.LINE, 359.5), Mark.LIP, -120.5)
    up = turned(setup, Falls.UP)
    assert (up.now.line_px, up.now.lip_px) == (359.5, -120.5)
    right = turned(setup, Falls.RIGHT)
    assert (right.now.line_px, right.now.lip_px) == (119.5, -40.5)
    left = turned(setup, Falls.LEFT)
    assert (left.now.line_px, left.now.lip_px) == (39.5, 199.5)
    assert undone(left).now == setup.now


@given(way=st.sampled_from([Falls.LEFT, Falls.RIGHT]), share=st.integers(0, 159))
def test_turning_there_and_back_again_changes_nothing(way: Falls, share: int) -> None:
    setup = turned(placed(START, Mark.BLADE, 3.0 * share + 1.0), Falls.DOWN)
    assert turned(turned(setup, way), Falls.DOWN).now == setup.now


def test_every_mark_can_be_left_open_again() -> None:
    setup = START
    for mark in (Mark.LINE, Mark.LIP, Mark.BEAM, Mark.BLADE):
        setup = placed(setup, mark, 200.0)
    setup = framed(framed(setup, Mark.REGION, (0, 0, 9, 9)), Mark.LAMP, (0, 0, 9, 9))
    setup = measured(dropped(pulled(begun(setup, Mark.SCALE, 4.0, 1.0), 0.0, 60.0)), 40.0)
    for mark in Mark:
        assert can_clear(setup, mark)
        setup = cleared(setup, mark)
        assert setup.now.is_open(mark)
    assert replace(setup.now, falls=None) == Marks()


def test_a_beam_of_which_the_file_says_more_keeps_its_height() -> None:
    setup = set_up(480, 160, Outlet(beam=BeamSettings(at_px=3.0, width_mm=1.0)))
    assert not can_clear(setup, Mark.BEAM)
    assert cleared(setup, Mark.BEAM) is setup
    bare = set_up(480, 160, Outlet(beam=BeamSettings(at_px=3.0)))
    assert outlet_now(cleared(bare, Mark.BEAM)).beam is None


@given(st.lists(st.sampled_from(["line", "lip", "box", "turn", "undo", "redo", "clear"])))
def test_steps_lead_back_to_the_beginning_and_forth_again(steps: list[str]) -> None:
    setup = START
    for number, step in enumerate(steps):
        match step:
            case "line":
                setup = placed(setup, Mark.LINE, 10.0 * number)
            case "lip":
                setup = placed(setup, Mark.LIP, 5.0 * number)
            case "box":
                setup = framed(setup, Mark.REGION, (number, 0, number + 9, 50))
            case "turn":
                setup = turned(setup, list(Falls)[number % 4])
            case "undo":
                setup = undone(setup)
            case "redo":
                setup = redone(setup)
            case "clear":
                setup = cleared(setup, Mark.LINE)
    end, taken = setup, len(setup.past)
    for _ in range(taken):
        setup = undone(setup)
    assert setup.now == START.now
    for _ in range(taken):
        setup = redone(setup)
    assert setup.now == end.now
    assert setup.future == end.future


def test_what_lies_under_the_mouse() -> None:
    marks = Marks(
        line_px=100.0,
        beam=Height(at_px=104.0),
        lamp=(10, 10, 30, 30),
        region=(0, 0, 160, 480),
        ruler=Ruler(x0_px=60.0, y0_px=200.0, x1_px=60.0, y1_px=300.0),
    )

    def under(x: float, y: float, first: Mark | None = None) -> tuple[Mark, Handle] | None:
        grip = grip_at(marks, x, y, reach_px=3.0, first=first)
        return None if grip is None else (grip.mark, grip.handle)

    assert under(80.0, 101.0) == (Mark.LINE, Handle.WHOLE)
    assert under(80.0, 103.0) == (Mark.BEAM, Handle.WHOLE)
    assert under(80.0, 102.9, Mark.LINE) == (Mark.LINE, Handle.WHOLE)
    assert under(9.0, 10.0) == (Mark.LAMP, Handle.X0Y0)
    assert under(20.0, 20.0) == (Mark.LAMP, Handle.WHOLE)
    assert under(30.0, 20.0) == (Mark.LAMP, Handle.X1)
    assert under(159.0, 250.0) == (Mark.REGION, Handle.X1)
    assert under(61.0, 299.0) == (Mark.SCALE, Handle.END)
    assert under(61.0, 201.0) == (Mark.SCALE, Handle.START)
    assert under(62.0, 250.0) == (Mark.SCALE, Handle.WHOLE)
    assert under(120.0, 250.0) is None
    assert under(66.0, 250.0) is None
