"""Scale and line time beside simulated truth, other people's recordings, and published figures.

Recordings are not part of the project; their tests skip, with the reason, where they are absent.
"""

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scaled_pours import falling

from viscount.codes import Code
from viscount.measure.scale.extent import Extent
from viscount.measure.scale.gravity import Circumstances, by_gravity
from viscount.measure.scale.line_fit import fit_curve
from viscount.measure.scale.part_size import Sized, Stated, by_part
from viscount.measure.scale.paths import Fallen, own_acceleration
from viscount.measure.scale.way import By, Way
from viscount.outlet import Outlet, Part, load_outlet
from viscount.scaling.answer import Scaled
from viscount.scaling.asked import Asked, Ways
from viscount.scaling.scale import scaled
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import Scene
from viscount.values import Status

BALL = Part.model_validate({"name": "ball", "shape": "ball", "diameter_mm": 40.0})


def measured(scene: Scene, folder: Path, *settings: str, asked: Asked | None = None) -> Scaled:
    """Measure a simulated pour by its own outlet file without the scale."""
    files = write_pour(scene, folder)
    outlet = load_outlet(files.outlet)
    view = outlet.view.model_copy(update={"scale_px_per_mm": None})
    bare: Outlet = outlet.model_copy(update={"view": view})
    return scaled([files.clip], outlet=bare, settings=settings, asked=asked)


def way(found: Scaled, by: By) -> Way:
    return next(one for one in found.ways if one.by is by)


def codes(found: Scaled) -> set[Code]:
    return {notice.code for notice in found.reasons}


@pytest.mark.parametrize(
    "part",
    [
        {"shape": "ball", "diameter_mm": 6.0},
        {"standard": "ISO 4762 M4x12"},
        {"standard": "ISO 7089 M4"},
        {"standard": "ISO 4032 M4"},
    ],
    ids=["ball", "screw", "washer", "nut"],
)
def test_gravity_and_part_hold_the_true_scale(part: dict[str, Any], tmp_path: Path):
    found = measured(falling(part=part, count=10), tmp_path)
    assert found.status is Status.CLEAN
    for by, most in ((By.GRAVITY, 0.03), (By.PART, 0.12)):
        one = way(found, by)
        assert one.value is not None
        # Three standard deviations.
        assert abs(one.value - 3.0) <= 1.5 * one.budget.expanded
        assert one.budget.expanded <= most * 3.0
    assert found.scale is not None
    assert found.scale.value == pytest.approx(3.0, rel=0.01)


@pytest.mark.parametrize("seed", [2, 3])
@pytest.mark.parametrize(("every_ms", "held"), [(8.0, False), (12.5, True)])
def test_an_even_stream_hides_no_error_of_its_places(
    seed: int, every_ms: float, held: bool, tmp_path: Path
):
    """At 120 frames a second: the pattern moves on by 2 px a frame, or stands every third."""
    scene = falling(
        seed=seed,
        part={"shape": "ball", "diameter_mm": 2.5},
        release={"kind": "escapement", "count": 40, "interval_ms": every_ms, "jitter_ms": 0.0},
        lip_speed_mm_s=2000.0,
        camera={"fps": 120.0, "exposure_us": 50.0},
        view={"height_px": 240, "line_px": 120.0},
    )
    found = measured(scene, tmp_path, asked=Asked(by=frozenset({Ways.GRAVITY})))
    one = way(found, By.GRAVITY)
    assert held or Code.PATTERN_STANDS in codes(found)
    assert one.value is not None or not held
    if one.value is not None:
        assert abs(one.value - 3.0) <= one.budget.expanded


@pytest.mark.parametrize("falls", ["up", "left"])
def test_the_fall_may_go_anywhere(falls: str, tmp_path: Path):
    view = {"falls": falls}
    if falls != "up":
        view |= {"width_px": 300, "height_px": 64}
    if falls in ("up", "left"):
        view |= {"lip_px": 360.0}
    found = measured(falling(view=view), tmp_path)
    assert found.status is Status.CLEAN
    assert found.scale is not None
    assert abs(found.scale.value - 3.0) <= 1.5 * found.scale.budget.expanded


def test_a_readout_along_the_fall(tmp_path: Path):
    scene = falling(camera={"readout": "up", "line_time_us": 20.0})
    told = measured(scene, tmp_path)
    assert told.status is Status.CLEAN
    assert told.scale is not None
    assert abs(told.scale.value - 3.0) <= 1.5 * told.scale.budget.expanded
    untold = measured(scene, tmp_path, "camera.readout=null", "camera.line_time_us=null")
    assert Code.READOUT_UNKNOWN in codes(untold)
    assert untold.status is Status.DOUBTFUL


def test_the_fall_contradicts_a_wrong_readout(tmp_path: Path):
    part = {"standard": "ISO 4762 M4x12"}
    scene = falling(part=part, camera={"readout": "down", "line_time_us": 20.0})
    found = measured(scene, tmp_path, "camera.readout=up")
    assert Code.LINE_TIMES_DISAGREE in codes(found)
    assert found.status is Status.DOUBTFUL


@pytest.mark.parametrize("size", ["known", "unknown"])
def test_slow_motion_is_refused(size: str, tmp_path: Path):
    # Gravity says 64 times fewer px to a mm: by the part's size, or because it would be a giant.
    unset = ["part.diameter_mm=null", "part.along_fall_mm=null"] if size == "unknown" else []
    scene = falling(recording={"slowed": 8.0})
    slow = measured(scene, tmp_path, "camera.capture_fps=null", *unset)
    assert Code.CAPTURE_RATE_SLOWED in codes(slow)
    assert way(slow, By.GRAVITY).value is None


def test_slow_motion_of_known_rate_is_real_time(tmp_path: Path):
    found = measured(falling(recording={"slowed": 8.0}), tmp_path)
    assert found.status is Status.CLEAN


def test_a_shaking_camera_is_doubted(tmp_path: Path):
    found = measured(
        falling(
            release={"kind": "escapement", "count": 12, "interval_ms": 20.0, "jitter_ms": 1.0},
            surroundings={"feeder": {"hz": 47.0, "amplitude_px": 2.5}},
        ),
        tmp_path,
        asked=Asked(by=frozenset({Ways.GRAVITY})),
    )
    assert Code.CAMERA_SHAKES in codes(found)


@pytest.mark.parametrize(
    ("line_us", "hz", "fps"),
    # Row times of an IMX708 at 1536x864 and of an OV5647 at 640x480, by those sensors' drivers.
    [(9.2090, 120.0, 90.0), (31.7488, 100.0, 62.5)],
)
def test_line_times_of_known_sensors_by_their_bands(
    line_us: float, hz: float, fps: float, tmp_path: Path
):
    scene = falling(
        camera={"readout": "down", "line_time_us": line_us, "fps": fps},
        light={"flicker_percent": 6.0, "flicker_hz": hz},
        view={"height_px": 480},
    )
    asked = Asked(by=frozenset({Ways.BANDS}))
    found = measured(scene, tmp_path, asked=asked)
    assert found.line_time is not None
    assert found.line_time.seconds == pytest.approx(1e-6 * line_us, rel=0.01)
    assert found.status is Status.CLEAN
    assert found.line_time.readout is not None
    assert found.line_time.readout.value == "down"


def test_steady_light_tells_no_line_time(tmp_path: Path):
    found = measured(falling(), tmp_path, asked=Asked(by=frozenset({Ways.BANDS})))
    assert found.line_time is None
    assert found.status is Status.INVALID
    assert Code.LINE_TIME_UNKNOWN in codes(found)


def test_a_pinhole_camera():
    # OV5647, 1.4 um pixels behind 3.60 mm (from memory): at 100 mm a 5.5 mm head is 141.4 px.
    one = Extent(along=141.4, across=141.4, major=141.4, minor=141.4, smear=0.0)
    head = Sized(extents=(one,) * 4, speeds_px_s=(1000.0,) * 4)
    stated = Stated(key="along_fall_mm", mm=5.5, axis="along")
    found = by_part([head] * 4, stated, source="")
    assert found.value == pytest.approx(3.60 / (1.4e-3 * 100.0), rel=1e-3)


# ---- other people's recordings ----


@pytest.mark.footage
def test_a_dropped_ball_by_gravity_and_by_its_width(footage: Path):
    clip = footage / "ball-drop" / "ball_drop.mp4"
    settings = [
        "motion.kind=free_fall",
        "camera.capture_fps=120",
        "view.region_px=[0,200,172,1000]",
    ]
    found = scaled([clip], part=BALL, settings=settings, asked=Asked(frames=(140, 160)))
    gravity, width = way(found, By.GRAVITY), way(found, By.PART)
    assert gravity.value is not None
    assert width.value is not None
    assert abs(gravity.value / width.value - 1) < 0.04
    assert abs(gravity.value - width.value) <= np.hypot(gravity.budget.u, width.budget.u) * 2
    assert found.scale is not None
    # Over 40 frames the ball, light and fast, is no longer in free fall.
    further = scaled([clip], part=BALL, settings=settings, asked=Asked(frames=(140, 180)))
    assert way(further, By.GRAVITY).value is None
    assert Code.ACCELERATION_VARIES in codes(further)


@pytest.mark.footage
def test_its_capture_rate_tag_must_be_answered(footage: Path):
    clip = footage / "ball-drop" / "ball_drop.mp4"
    settings = ["motion.kind=free_fall", "view.region_px=[0,200,172,1000]"]
    asked = Asked(frames=(140, 160), by=frozenset({Ways.GRAVITY}))
    found = scaled([clip], settings=settings, asked=asked)
    assert found.status is Status.INVALID
    assert Code.CAPTURE_RATE_TAG in codes(found)


@pytest.mark.footage
def test_a_fence_dropped_through_a_photogate(footage: Path):
    # Eight bars 5 cm apart; the report's own fit: g = 9.82 m/s².
    rows = _table(footage / "photogate-logs" / "picket_fence_studymode.csv")
    mm, t = (np.array([float(row[k]) for row in rows]) for k in ("position_m", "time_s"))
    fence = Fallen(t_s=t, y_px=1e3 * mm - 175.0, sigma_px=np.full(t.size, 0.5))
    assert 1e-3 * own_acceleration(fence)[0] == pytest.approx(9.82, abs=0.03)
    # With a mm for a px the scale is 1.
    found = by_gravity([fence], Circumstances(view_px=400.0, picture_px=400.0), source="fence")
    assert found.value is not None
    assert abs(found.value - 1.0) <= found.budget.expanded


@pytest.mark.footage
@pytest.mark.parametrize(
    ("name", "unit_s", "scatter_ms", "g_off"),
    [
        ("coursehero_M2_fall_times.csv", 1.0, 2.5, 0.03),
        ("labfis_steel_ball_fall_times.csv", 1e-3, 3.5, 0.03),
    ],
)
def test_timed_drops(footage: Path, name: str, unit_s: float, scatter_ms: float, g_off: float):
    # t = sqrt(2 h / g) + a delay: the slope of t over sqrt(2 h) is 1 / sqrt(g).
    rows = _table(footage / "fall-times" / name)
    h, t = (np.array([float(list(row.values())[k]) for row in rows]) for k in (0, 1))
    line = fit_curve(np.sqrt(2 * h), unit_s * t)
    slope, slope_u = line.slope_at(0.0)
    g, g_u = slope**-2, 2 * slope_u * slope**-3
    assert 1e3 * line.scatter < scatter_ms
    assert g == pytest.approx(9.80665, abs=max(4 * g_u, g_off * 9.80665))


def _table(path: Path) -> list[dict[str, str]]:
    text = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))
