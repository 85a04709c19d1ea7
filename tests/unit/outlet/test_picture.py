"""Where line and boxes lie in a picture."""

import numpy as np
import pytest

from viscount.errors import OutletError
from viscount.outlet import (
    Outlet,
    ViewSettings,
    lamp_in_picture,
    line_in_picture,
    region_in_picture,
)

HEIGHT, WIDTH = 480, 640


def _outlet(**view: object) -> Outlet:
    return Outlet(view=ViewSettings.model_validate(view))


@pytest.mark.parametrize(
    ("falls", "middle"), [("down", 239.5), ("up", 239.5), ("left", 319.5), ("right", 319.5)]
)
def test_line_defaults_to_the_middle_of_the_picture(falls: str, middle: float) -> None:
    assert line_in_picture(_outlet(falls=falls), HEIGHT, WIDTH) == middle


@pytest.mark.parametrize(("falls", "middle"), [("down", 149.5), ("right", 14.5)])
def test_line_defaults_to_the_middle_of_the_region(falls: str, middle: float) -> None:
    outlet = _outlet(falls=falls, region_px=[10, 100, 20, 200])
    assert line_in_picture(outlet, HEIGHT, WIDTH) == middle


def test_the_middle_is_as_far_from_the_first_pixel_as_from_the_last() -> None:
    outlet = _outlet(region_px=[10, 100, 20, 200])
    x0, y0, x1, y1 = region_in_picture(outlet, HEIGHT, WIDTH)
    rows = np.arange(HEIGHT)[y0:y1]
    line = line_in_picture(outlet, HEIGHT, WIDTH)
    assert line - rows[0] == rows[-1] - line
    assert x1 - x0 == 10


@pytest.mark.parametrize("line", [0, 0.25, 479])
def test_line_inside(line: float) -> None:
    assert line_in_picture(_outlet(line_px=line), HEIGHT, WIDTH) == line


@pytest.mark.parametrize("line", [700, 479.01, -0.01])
def test_line_outside_the_picture(line: float) -> None:
    with pytest.raises(OutletError, match="line outside the picture") as caught:
        line_in_picture(_outlet(line_px=line), HEIGHT, WIDTH)
    assert f"{line:g}" in caught.value.found
    assert caught.value.allowed == "0 to 479"
    assert caught.value.where == "view.line_px"


def test_line_along_x_may_go_further_than_along_y() -> None:
    assert line_in_picture(_outlet(line_px=600, falls="left"), HEIGHT, WIDTH) == 600
    with pytest.raises(OutletError, match="allowed: 0 to 639"):
        line_in_picture(_outlet(line_px=640, falls="left"), HEIGHT, WIDTH)


@pytest.mark.parametrize("line", [99, 200])
def test_line_outside_the_region(line: float) -> None:
    outlet = _outlet(line_px=line, region_px=[10, 100, 20, 200])
    with pytest.raises(OutletError, match="line outside the region") as caught:
        line_in_picture(outlet, HEIGHT, WIDTH)
    assert caught.value.allowed == "100 to 199"


def test_lip_and_beam_may_lie_outside_the_picture() -> None:
    outlet = Outlet.model_validate({"view": {"lip_px": -250}, "beam": {"at_px": 5000}})
    assert line_in_picture(outlet, HEIGHT, WIDTH) == 239.5


def test_region_defaults_to_the_whole_picture() -> None:
    assert region_in_picture(Outlet(), HEIGHT, WIDTH) == (0, 0, WIDTH, HEIGHT)
    assert region_in_picture(_outlet(region_px=[0, 0, 640, 480]), HEIGHT, WIDTH) == (0, 0, 640, 480)


@pytest.mark.parametrize("box", [[0, 0, 641, 480], [0, 0, 640, 481], [700, 0, 800, 10]])
def test_boxes_that_stick_out(box: list[int]) -> None:
    with pytest.raises(OutletError, match="sticks out") as caught:
        region_in_picture(_outlet(region_px=box), HEIGHT, WIDTH)
    assert caught.value.allowed == "x from 0 to 640, y from 0 to 480"
    with pytest.raises(OutletError, match=r"view\.lamp_px"):
        lamp_in_picture(_outlet(lamp_px=box), HEIGHT, WIDTH)
    with pytest.raises(OutletError, match=r"view\.region_px"):
        line_in_picture(_outlet(region_px=box, line_px=3), HEIGHT, WIDTH)


def test_lamp() -> None:
    assert lamp_in_picture(Outlet(), HEIGHT, WIDTH) is None
    assert lamp_in_picture(_outlet(lamp_px=[1, 2, 3, 4]), HEIGHT, WIDTH) == (1, 2, 3, 4)
