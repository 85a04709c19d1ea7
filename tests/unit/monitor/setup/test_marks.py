"""Marks as an outlet has them, and where they lie in the picture."""

import pytest

from viscount.monitor.setup.marks import Height, Mark, Marks, Ruler, marks_of
from viscount.outlet import BeamSettings, GateSettings, Outlet, ViewSettings
from viscount.values import Falls


def test_marks_are_those_of_the_outlet() -> None:
    view = ViewSettings(
        falls=Falls.LEFT,
        line_px=30.0,
        lip_px=90.0,
        region_px=(1, 2, 30, 40),
        lamp_px=(5, 6, 7, 8),
        scale_px_per_mm=2.0,
    )
    outlet = Outlet(view=view, beam=BeamSettings(below_lip_mm=10.0), gate=GateSettings(at_px=20.0))
    marks = marks_of(outlet)
    assert marks == Marks(
        falls=Falls.LEFT,
        line_px=30.0,
        lip_px=90.0,
        region=(1, 2, 30, 40),
        lamp=(5, 6, 7, 8),
        scale_px_per_mm=2.0,
        beam=Height(below_lip_mm=10.0),
        blade=Height(at_px=20.0),
    )
    assert not any(marks.is_open(mark) for mark in Mark)
    assert all(marks_of(Outlet()).is_open(mark) for mark in Mark)


@pytest.mark.parametrize(("falls", "place"), [("down", 110.0), ("up", -90.0), ("left", -90.0)])
def test_mm_below_the_lip_need_lip_scale_and_direction(falls: str, place: float) -> None:
    marks = Marks(falls=Falls(falls), beam=Height(below_lip_mm=50.0))
    assert marks.place_px(Mark.BEAM) is None
    whole = Marks(
        falls=Falls(falls), lip_px=10.0, scale_px_per_mm=2.0, beam=Height(below_lip_mm=50.0)
    )
    assert whole.place_px(Mark.BEAM) == place
    assert whole.below_lip_mm(Mark.BEAM) == 50.0
    drawn = Marks(falls=Falls(falls), lip_px=10.0, scale_px_per_mm=2.0, line_px=place)
    assert drawn.below_lip_mm(Mark.LINE) == 50.0


def test_a_ruler_is_as_long_as_its_ends_are_apart() -> None:
    assert Ruler(x0_px=1.0, y0_px=1.0, x1_px=4.0, y1_px=5.0).length_px == 5.0


def test_a_ruler_alone_is_no_scale_yet_but_a_mark() -> None:
    marks = Marks(ruler=Ruler(x0_px=0.0, y0_px=0.0, x1_px=4.0, y1_px=0.0))
    assert not marks.is_open(Mark.SCALE)
    assert marks.scale_px_per_mm is None
