"""What each input adds to the scale by gravity, by sums done by hand."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from falls import G, fallen

from viscount.measure.scale.budget import Input
from viscount.measure.scale.gravity import Circumstances, by_gravity
from viscount.measure.scale.paths import Fallen
from viscount.measure.scale.way import Way

AROUND = Circumstances(view_px=400.0, picture_px=400.0)
SCALE = 4.0


def measured(parts: list[Fallen], **around: float) -> Way:
    way = by_gravity(parts, replace(AROUND, **around), source="clip")  # type: ignore[arg-type]
    assert way.value is not None
    return way


def given(way: Way, name: str) -> Input:
    (one,) = (one for one in way.budget.inputs if one.name == name)
    return one


@pytest.fixture(scope="module")
def parts() -> list[Fallen]:
    return fallen(np.random.default_rng(1))


def test_bounds_are_rectangular(parts: list[Fallen]) -> None:
    way = measured(parts)
    assert way.value is not None
    for name, half in (
        ("local gravity", 0.003),
        ("clock", 2e-4),
        ("roll", 1.0 - math.cos(math.radians(3.0))),
        ("line time", 0.0),
    ):
        assert given(way, name).u == pytest.approx(way.value * half / math.sqrt(3.0)), name


def test_a_readout_along_the_fall_adds_three_times_what_its_line_time_may_be_off() -> None:
    """It makes the acceleration seem 1 / (1 - v T)³ times itself."""
    line_s = 30e-6
    seen = fallen(np.random.default_rng(2), line_s=line_s)
    way = measured(seen, line_time_s=line_s, line_time_share=0.05)
    assert way.value is not None
    pace = line_s * float(
        np.median([(p.y_px[-1] - p.y_px[0]) / (p.t_s[-1] - p.t_s[0]) for p in seen])
    )
    off = ((1 - pace) / (1 - 1.001 * pace)) ** 3 - 1
    expected = way.value * 0.05 * off / 0.001 / math.sqrt(3.0)
    assert given(way, "line time").u == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("count", "share"), [(1, 0.01), (2, 0.01 / math.sqrt(2.0)), (3, 0.0)])
def test_one_part_or_two_may_turn(count: int, share: float, parts: list[Fallen]) -> None:
    way = measured(parts[:count])
    assert way.value is not None
    assert given(way, "turning of so few parts").u == pytest.approx(share * way.value)
    freedom = given(way, "scatter of the paths").freedom
    own = 4 + sum(len(part) - 3 for part in parts[:count])
    assert freedom == (own if count < 3 else count - 1)


def test_drag_adds_what_it_takes_from_gravity() -> None:
    """A part at v loses k v² of g; k is taken for 0.05 ± 0.05 / m, the middle of the bounds."""
    none, middle, most = (
        measured(_one_fast(drag_per_m), tilt_deg=0.01) for drag_per_m in (0.0, 0.05, 0.1)
    )
    loses = 1e-3 * 0.05 * 2300.0**2 / G
    assert middle.value == pytest.approx(SCALE, rel=1e-3)
    assert none.value == pytest.approx(SCALE * (1.0 + loses), rel=3e-3)
    assert most.value == pytest.approx(SCALE * (1.0 - loses), rel=3e-3)
    assert given(middle, "drag").u == pytest.approx(SCALE * loses / math.sqrt(3.0), rel=0.1)


def _one_fast(drag_per_m: float) -> list[Fallen]:
    """A part without noise, of which nobody knows that: its path alone tells no drag."""
    rng = np.random.default_rng(3)
    (one,) = fallen(rng, count=1, drag_per_m=drag_per_m, speed_mm_s=1800.0, sigma_px=1e-4)
    return [replace(one, sigma_px=np.full(len(one), 0.05))]


def test_a_nod_adds_as_much_as_it_may_be() -> None:
    """Its growth of px, 2 sin q / D, adds v² times itself to the acceleration: not all of it is
    seen in paths of so few px."""
    short = fallen(np.random.default_rng(4), count=4, view_px=150.0, speed_mm_s=1500.0)
    u = [given(measured(short, tilt_deg=q), "tilt and perspective").u for q in (1.5, 3.0)]
    assert u[1] == pytest.approx(2 * u[0], rel=0.1)
    growth = 2.0 * math.sin(math.radians(3.0 / math.sqrt(3.0))) * 0.6 / 400.0
    square = float(np.mean([(np.ptp(p.y_px) / np.ptp(p.t_s)) ** 2 for p in short]))
    assert u[1] == pytest.approx(SCALE * growth * square / (SCALE * G), rel=0.3)


def test_parts_that_differ_are_less_sure_by_how_they_do(parts: list[Fallen]) -> None:
    rng = np.random.default_rng(5)
    share = 0.15
    turned = []
    for part in parts:
        t = part.t_s - part.t_s.mean()
        bent = part.y_px + 0.5 * share * rng.normal() * SCALE * G * t**2
        turned.append(replace(part, y_px=bent))
    way = measured(turned)
    expected = SCALE * share / math.sqrt(len(parts))
    assert given(way, "scatter of the paths").u == pytest.approx(expected, rel=0.5)
    assert given(measured(parts), "scatter of the paths").u < 0.3 * expected


def test_parts_in_view_together_share_a_shake(parts: list[Fallen]) -> None:
    """Each is in view for 54 ms and 20 ms later the next: four share each shake, and twenty are no
    more than five groups."""
    assert np.median([np.ptp(part.t_s) for part in parts]) == pytest.approx(0.054, abs=0.003)
    still, shaken = (measured(parts, shake_px=shake) for shake in (0.1, 0.5))
    assert given(still, "scatter of the paths").freedom == 19
    assert given(shaken, "scatter of the paths").freedom == 4


def test_what_drag_explains_of_a_change_is_told() -> None:
    way = measured(fallen(np.random.default_rng(1), drag_per_m=2.0, speed_mm_s=1200.0))
    (notice,) = way.notices
    told = re.search(r"over the (\d+) px .* explain (-?[\d.]+) ± (\d+) %", notice.text)
    assert told is not None
    way_px, explained = float(told[1]), float(told[2])
    # The square of the speed grows by 2 g z, and k v² with it, of which k is 0.05 / m.
    value = way.value
    assert value is not None
    assert explained == pytest.approx(-100 * 2 * 0.05e-3 * way_px / value, abs=0.06)
