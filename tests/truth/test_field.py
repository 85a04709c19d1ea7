"""Inputs that trip programs like this one, drawn with known truth; the status is part of the
answer. They come from reports of people who do this kind of work.
"""

import re
from pathlib import Path

import numpy as np
import pytest
from counting import count_frames, outlet
from scenes import ANNULUS, SCALE, box, field_scene

from viscount.codes import Code
from viscount.measure.slowness import slowness
from viscount.offline import count
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import FreeFall, Resting, load_scene
from viscount.values import Status

BELT = {"motion": {"kind": "belt"}, "view": {"line_px": 80}}
SCALED = {"motion": {"kind": "belt"}, "view": {"line_px": 80, "scale_px_per_mm": SCALE}}
FALL = {"motion": {"kind": "free_fall"}, "view": {"line_px": 80, "scale_px_per_mm": SCALE}}
KNOWN = {
    "motion": {"kind": "belt", "speed_mm_s": 1500.0},
    "view": {"line_px": 80, "scale_px_per_mm": SCALE},
}


@pytest.mark.parametrize("fps", [125.0, 120.0, 300.0])
@pytest.mark.parametrize("set_up", [BELT, KNOWN, {"view": {"line_px": 80}}])
def test_a_standing_pattern(fps: float, set_up: dict):
    # At 125 frames a second each part sits where the one before it sat.
    found = count_frames(field_scene(fps=fps, parts=20, pitch_ms=8.0).frames, outlet(**set_up))
    assert (found.result.count, found.result.status) == (20, Status.CLEAN)


def test_slow_motion_without_a_capture_rate_is_counted_and_its_times_are_refused():
    # True 240 frames a second stored as 30: g comes out 64 times too small.
    shot = field_scene(fps=240.0, parts=5, pitch_ms=50.0, free_fall=FreeFall(), slowed=8.0)
    found = count_frames(shot.frames, outlet(**FALL))
    assert found.result.count == 5
    model = found.pipeline.model
    slow = slowness(model.acceleration, SCALE)
    assert slow is not None
    assert slow.times == pytest.approx(8.0, rel=0.02)
    assert "apparent g 0.15 m/s2, capture about 8" in slow.notice().text


def test_slow_motion_with_its_capture_rate_has_the_right_spacing_and_gravity():
    shot = field_scene(fps=240.0, parts=5, pitch_ms=50.0, free_fall=FreeFall())
    found = count_frames(shot.frames, outlet(**FALL, camera={"capture_fps": 240.0}))
    assert (found.result.count, found.result.status) == (5, Status.CLEAN)
    intervals = np.diff([p.t_ns for p in found.passages]) * 1e-6
    assert np.median(intervals) == pytest.approx(50.0, abs=0.2)


def test_gravity_is_learned_from_the_clip_alone():
    shot = field_scene(fps=240.0, parts=5, pitch_ms=50.0, free_fall=FreeFall())
    found = count_frames(shot.frames, outlet(view={"line_px": 80}))
    assert found.result.count == 5
    assert found.pipeline.model.acceleration == pytest.approx(9806.65 * SCALE, rel=0.1)


def test_a_part_that_stands_in_the_first_frames_leaves_no_ghost():
    # Five frames with a part lying at y = 60, a hundred empty ones, then five parts.
    lying = Resting(along_px=60.0, across_px=60.0, from_s=0.0, until_s=4.5 / 120)
    shot = field_scene(parts=5, lead_in_frames=105, resting=[lying])
    found = count_frames(shot.frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (5, Status.CLEAN)


def test_washers_are_one_region_each_with_their_bore():
    shot = field_scene(part=ANNULUS)
    for set_up in (BELT, {**SCALED, "part": {"along_fall_mm": 10.0}}):
        found = count_frames(shot.frames, outlet(**set_up))
        assert (found.result.count, found.result.status) == (10, Status.CLEAN)


def test_two_sightings_of_each_part_are_enough():
    # 2 m/s at 120 frames a second: whole once above the line and once below it.
    shot = field_scene(speed_px_s=8000.0, first_ms=10.0)
    found = count_frames(shot.frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)


def test_a_glint_is_one_part_where_its_length_is_known_and_a_doubt_where_not():
    shot = field_scene(part=box(30.0, 16.0, glint_px=4.0))
    known = count_frames(shot.frames, outlet(**SCALED, part={"along_fall_mm": 7.5}))
    assert (known.result.count, known.result.status) == (10, Status.CLEAN)
    unknown = count_frames(shot.frames, outlet(**BELT))
    assert unknown.result.status is Status.DOUBTFUL
    assert "pieces_or_pairs" in unknown.codes


def test_close_pairs_are_two_parts_where_the_length_is_known_or_taught_by_singles():
    pairs = [t for k in range(5) for t in (50.0 * k, 50.0 * k + 3.0)]
    shot = field_scene(part=box(15.0, 16.0), times_ms=pairs)
    known = count_frames(shot.frames, outlet(**SCALED, part={"along_fall_mm": 3.75}))
    assert (known.result.count, known.result.status) == (10, Status.CLEAN)
    assert count_frames(shot.frames, outlet(**BELT)).result.status is Status.DOUBTFUL
    mixed = [t for k in range(5) for t in (100.0 * k, 100.0 * k + 3.0, 100.0 * k + 50.0)]
    found = count_frames(field_scene(part=box(15.0, 16.0), times_ms=mixed).frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (15, Status.CLEAN)


@pytest.mark.parametrize("free_fall", [None, FreeFall()], ids=["belt", "fall"])
@pytest.mark.parametrize("fps", [120.0, 240.0])
def test_crossing_times_and_their_sigma(free_fall: FreeFall | None, fps: float):
    set_up = outlet(**(BELT if free_fall is None else {**FALL, "camera": {"capture_fps": fps}}))
    pulls = []
    for seed in range(6):
        # A speed at which parts lie on the pixel grid in every way.
        shot = field_scene(
            parts=10, pitch_ms=31.0, fps=fps, free_fall=free_fall, seed=seed, speed_px_s=5777.0
        )
        found = count_frames(shot.frames, set_up)
        assert (found.result.count, found.result.status) == (10, Status.CLEAN)
        truth = np.array([p.line_t_ns for p in shot.truth.parts])
        error = np.array([p.t_ns for p in found.passages]) - truth
        assert np.sqrt((error**2.0).mean()) < 30_000
        pulls.append(error / np.array([p.sigma_ns for p in found.passages]))
    assert 0.8 < np.sqrt(np.mean(np.square(pulls))) < 1.25


@pytest.mark.parametrize("readout", ["down", "up", "left", "right"])
def test_a_rolling_shutter_of_known_line_time(readout: str):
    # v x line time = 6000 px/s x 30 µs = 0.18.
    shot = field_scene(pitch_ms=30.0, readout=readout, line_time_us=30.0)
    set_up = outlet(**BELT, camera={"readout": readout, "line_time_us": 30.0})
    found = count_frames(shot.frames, set_up)
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    truth = np.array([p.line_t_ns for p in shot.truth.parts])
    error = np.array([p.t_ns for p in found.passages]) - truth
    assert np.abs(error).max() < 60_000


def test_parts_that_noise_hides_are_no_silent_zero(tmp_path: Path) -> None:
    """The reason says how faint a part may be, and that is more than these parts differ by."""
    path = Path(__file__).parents[2] / "fixtures" / "scenes" / "hidden-by-noise.yaml"
    camera = load_scene(path).camera
    found = count(write_pour(load_scene(path), tmp_path).clip)
    (reason,) = found.reasons
    assert (found.count, found.status, reason.code) == (0, Status.DOUBTFUL, Code.NOTHING_SEEN)
    told = re.search(r"less than (\d+) grey", reason.text)
    assert told is not None
    assert int(told[1]) > abs(camera.background_grey - camera.part_grey)
