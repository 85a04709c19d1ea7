"""The scale by gravity, against falls that are integrated numerically."""

import math

import numpy as np
import pytest
from falls import G, fallen

from viscount.codes import Code
from viscount.measure.scale.gravity import Circumstances, by_gravity
from viscount.measure.scale.paths import Fallen
from viscount.measure.scale.way import Way

AROUND = Circumstances(view_px=400.0, picture_px=400.0)


def measured(seed: int = 1, around: Circumstances = AROUND, **fall: float) -> Way:
    return by_gravity(fallen(np.random.default_rng(seed), **fall), around, source="clip")


@pytest.mark.parametrize(
    "fall",
    [
        {},
        {"drag_per_m": 0.0},
        {"drag_per_m": 0.1},
        {"tilt_deg": 3.0},
        {"tilt_deg": -3.0, "drag_per_m": 0.1},
        {"speed_mm_s": 300.0},
        {"scale": 2.0, "fps": 240.0},
    ],
)
def test_it_holds_the_truth(fall: dict[str, float]):
    way = measured(**fall)
    true = fall.get("scale", 4.0) * math.cos(math.radians(fall.get("tilt_deg", 0.0)))
    assert way.value is not None
    # Three standard deviations; how often one interval holds is asked below.
    assert abs(way.value - true) <= 1.5 * way.budget.expanded
    assert way.budget.expanded < 0.04 * true
    assert way.notices == ()


def test_its_interval_is_honest():
    z = []
    for seed in range(20):
        way = measured(seed, count=6, sigma_px=0.1)
        assert way.value is not None
        z.append((way.value - 4.0) / way.budget.expanded)
    inside = np.abs(z) <= 1.0
    # Of 20 intervals that claim 95 % fewer than 17 hold in one trial of 60.
    assert inside.sum() >= 17
    # Nor so wide that they claim nothing.
    assert np.std(z) > 0.2


def test_a_tilt_shows_as_a_change_of_scale():
    way = measured(tilt_deg=4.0, distance_mm=250.0, count=30)
    # dy/dz of a plane that nods by q at D: 1 - 2 z sin q / D.
    true = -2 * math.sin(math.radians(4.0)) * 100.0 / 250.0
    assert way.change == pytest.approx(true, abs=0.01)


def test_gravity_of_the_place():
    own = Circumstances(view_px=400.0, picture_px=400.0, g_mm_s2=9780.0, g_share=1e-4)
    way = measured(around=own, gravity=9780.0, count=30)
    assert way.value is not None
    assert abs(way.value - 4.0) <= way.budget.expanded
    (place,) = [one for one in way.budget.inputs if one.name == "local gravity"]
    assert place.u < 1e-3


def test_an_acceleration_that_falls_along_the_path_is_refused():
    # As if a thread were pulled along: no part of a kit has so much drag.
    way = measured(drag_per_m=5.0, speed_mm_s=700.0, count=20)
    assert way.value is None
    assert [notice.code for notice in way.notices] == [Code.ACCELERATION_VARIES]


def test_one_that_changes_less_is_doubted():
    way = measured(drag_per_m=2.0, speed_mm_s=1200.0, count=20)
    assert way.value is not None
    assert [notice.code for notice in way.notices] == [Code.ACCELERATION_VARIES]


def test_an_unknown_readout_along_the_fall_is_seen_as_such_a_change():
    way = measured(line_s=40e-6, count=20)
    assert Code.ACCELERATION_VARIES in [notice.code for notice in way.notices]


def test_a_wide_tilt_allows_it():
    wide = Circumstances(view_px=400.0, picture_px=400.0, tilt_deg=20.0)
    plain, allowed = (measured(around=a, tilt_deg=8.0, distance_mm=250.0) for a in (AROUND, wide))
    assert Code.ACCELERATION_VARIES in [notice.code for notice in plain.notices]
    assert allowed.notices == ()


def test_what_does_not_fall_tells_nothing():
    t = np.arange(12) / 120.0
    steady = [Fallen(t_s=t, y_px=2000.0 * t - 100, sigma_px=np.full(12, 0.1)) for _ in range(5)]
    way = by_gravity(steady, AROUND, source="belt")
    assert way.value is None
    assert [notice.code for notice in way.notices] == [Code.ACCELERATION_UNKNOWN]


@pytest.mark.parametrize("sights", [0, 3, 4])
def test_too_few_sightings_tell_nothing(sights: int):
    t = np.arange(float(sights)) / 120.0
    short = Fallen(t_s=t, y_px=20000.0 * t**2, sigma_px=np.full(sights, 0.1))
    way = by_gravity([short] if sights else [], AROUND, source="short")
    assert way.value is None
    assert way.interval is None
    assert [notice.code for notice in way.notices] == [Code.ACCELERATION_UNKNOWN]


def test_a_noisy_fall_tells_nothing():
    way = measured(sigma_px=3.0, count=1, view_px=200.0)
    assert way.value is None
    assert "is known to" in way.notices[0].text
    assert [notice.code for notice in way.notices] == [Code.ACCELERATION_UNKNOWN]


def test_one_that_falls_otherwise_is_left_out():
    parts = fallen(np.random.default_rng(1))
    t = parts[0].t_s
    odd = Fallen(t_s=t, y_px=9000.0 * (t - t.mean()), sigma_px=parts[0].sigma_px)
    way = by_gravity([*parts, odd], AROUND, source="clip")
    assert way.value is not None
    assert abs(way.value - 4.0) < way.budget.expanded
    assert way.what.startswith("20 parts")


@pytest.mark.parametrize(("unit", "times"), [("px", 2.0), ("s", 1.0)])
def test_it_scales_with_px_and_with_seconds(unit: str, times: float):
    parts = fallen(np.random.default_rng(3))
    if unit == "px":
        turned = [
            Fallen(t_s=p.t_s, y_px=times * p.y_px, sigma_px=times * p.sigma_px) for p in parts
        ]
        around = Circumstances(view_px=800.0, picture_px=800.0)
    else:
        turned = [Fallen(t_s=p.t_s + 17.0, y_px=p.y_px, sigma_px=p.sigma_px) for p in parts]
        around = AROUND
    one, two = by_gravity(parts, AROUND, source=""), by_gravity(turned, around, source="")
    assert one.value is not None
    # How far sightings usually scatter is so many px, whatever the scale; so are the blocks of
    # a compressed picture.
    assert two.value == pytest.approx(times * one.value, rel=1e-4)
    assert two.budget.expanded == pytest.approx(times * one.budget.expanded, rel=0.15)


def test_a_stated_rate_is_less_sure_than_the_files_own_clock():
    stated = Circumstances(view_px=400.0, picture_px=400.0, rate_stated=True)
    clocks = [
        next(i.u for i in measured(around=a).budget.inputs if i.name == "clock")
        for a in (AROUND, stated)
    ]
    assert clocks[1] == pytest.approx(10 * clocks[0], rel=0.01)


def test_standard_gravity():
    # 3rd CGPM, 1901.
    assert AROUND.g_mm_s2 == G


def strayed(parts: list[Fallen], share: float, rng: np.random.Generator) -> list[Fallen]:
    """Add an acceleration of its own to each part, as one that turns has it."""
    found = []
    for part in parts:
        t = part.t_s - part.t_s.mean()
        own = 0.5 * share * 4.0 * G * rng.normal() * t**2
        found.append(Fallen(t_s=part.t_s, y_px=part.y_px + own, sigma_px=part.sigma_px))
    return found


@pytest.mark.parametrize(
    ("fps", "count", "stray"),
    # Three or four sightings of each; one part, and two, of which nobody knows how they turn.
    [(80.0, 8, 0.01), (120.0, 1, 0.01), (120.0, 2, 0.01)],
)
def test_few_sightings_and_few_parts_are_told_as_unsure_as_they_are(
    fps: float, count: int, stray: float
):
    z, widths = [], []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        drag = float(rng.uniform(0.0, 0.1))
        parts = fallen(rng, count=count, fps=fps, drag_per_m=drag)
        way = by_gravity(strayed(parts, stray, rng), AROUND, source="clip")
        assert way.value is not None
        z.append((way.value - 4.0) / way.budget.expanded)
        widths.append(way.budget.expanded / 4.0)
    # Of 12 intervals that claim 95 %, fewer than 10 hold in one trial of 50.
    assert (np.abs(z) <= 1.0).sum() >= 10
    assert np.median(widths) < 0.15


def test_three_sightings_of_few_parts_tell_nothing():
    rng = np.random.default_rng(3)
    short = [
        Fallen(t_s=p.t_s[:3], y_px=p.y_px[:3], sigma_px=p.sigma_px[:3])
        for p in fallen(rng, count=6, fps=80.0)
    ]
    assert by_gravity(short, AROUND, source="clip").value is not None
    assert by_gravity(short[:5], AROUND, source="clip").value is None
