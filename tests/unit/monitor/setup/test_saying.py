"""What is told of marks: rows of a table, problems, names beside the picture."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.monitor.setup.labels import spread
from viscount.monitor.setup.marks import Height, Mark, Marks, Ruler
from viscount.monitor.setup.problems import problems
from viscount.monitor.setup.rows import how, rows
from viscount.monitor.setup.showing import Margins, Showing, fitted, panned, zoomed
from viscount.monitor.setup.state import SetUp, set_up
from viscount.values import Falls, Level

START = set_up(480, 160)
GOOD = Marks(
    falls=Falls.DOWN,
    line_px=300.0,
    lip_px=-120.0,
    region=(24, 0, 140, 480),
    lamp=(145, 10, 158, 30),
    beam=Height(below_lip_mm=114.0),
    blade=Height(at_px=420.0),
    scale_px_per_mm=4.0,
    ruler=Ruler(x0_px=40.0, y0_px=120.0, x1_px=40.0, y1_px=280.0, mm=40.0),
)


def having(**changed: object) -> SetUp:
    return replace(START, now=replace(GOOD, **changed))


def test_rows_show_what_will_be_written_and_what_it_comes_to() -> None:
    told = {row.mark: (row.key, row.value, row.note) for row in rows(having())}
    assert told == {
        Mark.LINE: ("view.line_px", "300", "105.0 mm below the lip"),
        Mark.REGION: ("view.region_px", "[24, 0, 140, 480]", "116 x 480 px"),
        Mark.LIP: ("view.lip_px", "-120", "outside the picture"),
        Mark.SCALE: ("view.scale_px_per_mm", "4", "160.0 px are 40 mm"),
        Mark.BEAM: ("beam.below_lip_mm", "114", "114.0 mm below the lip"),
        Mark.BLADE: ("gate.at_px", "420", "135.0 mm below the lip"),
        Mark.LAMP: ("view.lamp_px", "[145, 10, 158, 30]", "13 x 20 px"),
    }


def test_rows_say_what_holds_where_a_mark_is_open() -> None:
    for row in rows(START):
        assert row.is_open
        assert row.value == ""
        assert row.note.startswith("open: ")
        assert how(row.mark)


def test_nothing_is_wrong_with_good_marks_or_with_none() -> None:
    assert problems(having()) == ()
    assert problems(START) == ()


@pytest.mark.parametrize(
    ("changed", "mark", "level", "words"),
    [
        ({"region": (24, 310, 140, 480)}, Mark.LINE, Level.INVALID, "line outside the region"),
        ({"region": (24, 0, 200, 480)}, Mark.REGION, Level.INVALID, "sticks out of the picture"),
        ({"lamp": (150, 10, 161, 30)}, Mark.LAMP, Level.INVALID, "sticks out of the picture"),
        ({"lip_px": 310.0}, Mark.LINE, Level.DOUBT, "comes before the lip along the fall"),
        ({"blade": Height(at_px=320.0)}, Mark.BLADE, Level.DOUBT, "past the blade already"),
        ({"blade": Height(at_px=-200.0)}, Mark.BLADE, Level.DOUBT, "comes before the lip"),
        ({"line_px": 3.0}, Mark.LINE, Level.DOUBT, "3 px from the border"),
        ({"lamp": (20, 290, 150, 310)}, Mark.LAMP, Level.DOUBT, "hides most of the counting"),
        ({"scale_px_per_mm": None}, Mark.BEAM, Level.DOUBT, "it needs the scale"),
        (
            {"ruler": replace(GOOD.ruler, mm=None)},
            *(Mark.SCALE, Level.DOUBT, "type how long the segment is"),
        ),
        (
            {"ruler": Ruler(x0_px=4.0, y0_px=9.0, x1_px=104.0, y1_px=9.0, mm=25.0)},
            *(Mark.SCALE, Level.DOUBT, "across the fall"),
        ),
        (
            {"ruler": Ruler(x0_px=4.0, y0_px=9.0, x1_px=4.0, y1_px=19.0, mm=2.5)},
            *(Mark.SCALE, Level.DOUBT, "10 px tells the scale to 10 % only"),
        ),
    ],
)
def test_what_is_wrong_is_said(
    changed: dict[str, object], mark: Mark, level: Level, words: str
) -> None:
    found = problems(having(**changed))
    assert any(p.mark is mark and p.level is level and words in p.text for p in found), found


def test_the_order_goes_by_the_fall() -> None:
    up = having(falls=Falls.UP)
    assert any("comes before the lip" in one.text for one in problems(up))


@given(
    wanted=st.lists(st.floats(-50, 350), max_size=8),
    size=st.floats(5, 30),
    gap=st.floats(0, 6),
)
def test_names_never_cover_each_other_and_keep_their_order(
    wanted: list[float], size: float, gap: float
) -> None:
    starts = spread(wanted, [size] * len(wanted), 0.0, 300.0, gap)
    placed = sorted(zip(wanted, starts, strict=True))
    for (_, one), (_, other) in pairwise(placed):
        assert other - one >= size + gap - 1e-6
    if len(wanted) * (size + gap) <= 300:
        assert all(-1e-6 <= start <= 300 - size + 1e-6 for start in starts)


def test_names_with_room_stand_where_they_are_wanted() -> None:
    assert spread([50.0, 200.0], [20.0, 30.0], 0.0, 300.0, 4.0) == (40.0, 185.0)
    assert spread([100.0, 100.0], [20.0, 20.0], 0.0, 300.0, 4.0) == (78.0, 102.0)


@given(zoom=st.floats(0.1, 20), x=st.floats(-500, 500), y=st.floats(-500, 500))
def test_window_and_picture_are_each_other_s_inverse(zoom: float, x: float, y: float) -> None:
    showing = panned(Showing(zoom=zoom, left=3.0, top=-7.0), 4.0, 5.0)
    back = showing.to_picture(*showing.to_window(x, y))
    assert back == pytest.approx((x, y), abs=1e-6)


@given(factor=st.floats(0.2, 5), x=st.floats(0, 800), y=st.floats(0, 800))
def test_zooming_keeps_what_is_under_the_mouse(factor: float, x: float, y: float) -> None:
    before = Showing(zoom=1.7, left=30.0, top=-40.0)
    after = zoomed(before, factor, x, y)
    assert after.to_picture(x, y) == pytest.approx(before.to_picture(x, y), abs=1e-6)
    assert after.zoom == pytest.approx(1.7 * factor)


def test_fitting_shows_the_picture_and_the_marks_beside_it() -> None:
    margins = Margins(left=50.0, top=10.0, right=50.0, bottom=10.0)
    showing = fitted(START, 400.0, 500.0, margins)
    assert showing.zoom == 1.0
    assert showing.to_window(-0.5, -0.5) == (120.0, 10.0)
    with_lip = fitted(having(), 400.0, 500.0, margins)
    assert with_lip.to_window(0.0, -120.5)[1] >= 10.0
    assert with_lip.to_window(0.0, 479.5)[1] == pytest.approx(490.0)
    far = fitted(having(lip_px=-4000.0), 400.0, 500.0, margins)
    assert far.zoom == 1.0
