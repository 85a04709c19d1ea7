"""When the line that a moving part is on is exposed."""

import numpy as np
import pytest

from viscount.motion.geometry import Geometry
from viscount.values import Falls


def geometry(falls: Falls, readout: Falls, line_time_s: float = 2e-5) -> Geometry:
    return Geometry(
        falls=falls,
        line_px=120.0,
        view=(0, 0, 200, 300),
        picture=(300, 200),
        line_time_s=line_time_s,
        readout=readout,
    )


@pytest.mark.parametrize("falls", list(Falls))
@pytest.mark.parametrize("readout", list(Falls))
def test_a_place_along_the_fall_is_delayed_as_its_point_in_the_picture(
    falls: Falls, readout: Falls
) -> None:
    """The points' own coordinates are turned along and across, and back."""
    here = geometry(falls, readout)
    x, y = np.array([10.0, 150.0]), np.array([280.0, 31.0])
    delay = here.delay_s(here.along(x, y), here.across(x, y))
    assert delay == pytest.approx(here.line_delay_s(x, y))


@pytest.mark.parametrize("falls", list(Falls))
@pytest.mark.parametrize("readout", list(Falls))
def test_a_falling_part_is_exposed_when_its_line_is(falls: Falls, readout: Falls) -> None:
    """At 20 us a line and 12,000 px/s the part moves 0.24 px while one line is exposed."""
    here = geometry(falls, readout)
    start = np.array([-90.0, 20.0])

    def path(at_s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        since = at_s - 7.0
        speed = 12_000.0 + 40_000.0 * since
        return start + 12_000.0 * since + 20_000.0 * since**2, np.array([40.0, 41.0]), speed

    at_s = here.exposed_s(7.0, np.full(2, 7.0), path)
    along, across, _ = path(at_s)
    assert at_s == pytest.approx(7.0 + here.delay_s(along, across), abs=1e-9)


def test_a_global_shutter_exposes_all_at_once() -> None:
    here = geometry(Falls.DOWN, Falls.DOWN, line_time_s=0.0)
    assert here.exposed_s(3.0, np.zeros(4), lambda at: (at, at, at)) == pytest.approx([3.0] * 4)
