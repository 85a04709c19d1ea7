"""What the truth says, and its JSON."""

import json

import jsonschema
import pytest
from scenes import box, field_scene

from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import simulate
from viscount.simulate.scene import Beam, FreeFall
from viscount.simulate.truth import truth_schema
from viscount.values import Falls


def test_crossings_of_the_house_scene() -> None:
    """The leading edge enters at 60 frames + k x 8 ms, and is at y = 80 after 80 / 6000 s."""
    shot = field_scene(fps=125.0, parts=20, pitch_ms=8.0)
    assert shot.truth.crossed == 20
    for k, part in enumerate(shot.truth.parts):
        enters = 0.480 + 0.008 * k
        assert part.release_t_ns == pytest.approx(enters * 1e9, abs=2)
        # Truth speaks of the centroid, 16 px behind the leading edge.
        assert part.line_t_ns == pytest.approx((enters + 96 / 6000) * 1e9, abs=2)
        assert part.speed_px_s == pytest.approx(6000.0)
        assert part.speed_mm_s == pytest.approx(1500.0)
        assert part.across_px == pytest.approx(59.5)
        assert part.length_px == pytest.approx(32.0)
        assert part.beam_t_ns is None


def test_sightings_of_the_house_scene() -> None:
    """At 125 frames per second each part sits where the last one was: y = 80, 32 and cut."""
    frame = field_scene(fps=125.0, parts=20, pitch_ms=8.0).truth.frames[62]
    assert [(s.part, s.y_px, s.whole) for s in frame.seen] == [
        (0, pytest.approx(80.0), True),
        (1, pytest.approx(32.0), True),
        (2, pytest.approx(-16.0), False),
    ]


@pytest.mark.parametrize("falls", list(Falls))
def test_every_direction_has_the_same_times(falls: Falls) -> None:
    size = (120, 160) if falls.vertical else (160, 120)
    line = 80.0 if falls.sign > 0 else 79.0
    shot = field_scene(
        falls=falls, width_px=size[0], height_px=size[1], line_px=line, parts=3, lead_in_frames=0
    )
    down = field_scene(parts=3, lead_in_frames=0)
    assert [p.line_t_ns for p in shot.truth.parts] == [p.line_t_ns for p in down.truth.parts]
    assert [len(f.seen) for f in shot.truth.frames] == [len(f.seen) for f in down.truth.frames]


def test_parts_outside_the_clip_do_not_cross() -> None:
    """The clip begins and ends in mid-stream."""
    shot = field_scene(
        fps=125.0, parts=30, pitch_ms=8.0, first_ms=-79.0, lead_in_frames=0, frames_after=10
    )
    assert len(shot.frames) == 10
    crossed = [p.part for p in shot.truth.parts if p.line_t_ns is not None]
    # Parts cross at -79 + 8 k + 16 ms; the frames last from 0 to 72 ms.
    assert crossed == list(range(8, 17))
    assert shot.truth.parts[0].speed_px_s is None


def test_dropped_and_repeated_frames() -> None:
    shot = field_scene(parts=10, first_ms=50.0, dropped=range(12, 18), repeated=(30,))
    numbers = [f.number for f in shot.truth.frames]
    assert not set(range(72, 78)) & set(numbers)
    assert [f.index for f in shot.frames] == list(range(len(numbers)))
    gap = shot.frames[72].t_ns - shot.frames[71].t_ns
    assert gap == pytest.approx(7 / 120 * 1e9, abs=2)
    shown = {
        f.number: (f.shows, image.pixels.tobytes(), f.seen)
        for f, image in zip(shot.truth.frames, shot.frames, strict=True)
    }
    assert shown[90] == shown[89]
    assert shown[91] != shown[90]
    # The third part is in view only while frames are lost.
    assert 2 not in {s.part for f in shot.truth.frames for s in f.seen}


def test_slow_motion_stretches_times_only() -> None:
    fall = FreeFall(gravity_mm_s2=9810.0)
    slow = field_scene(
        fps=240.0, free_fall=fall, parts=2, pitch_ms=50.0, lead_in_frames=5, slowed=8.0
    )
    real = field_scene(fps=240.0, free_fall=fall, parts=2, pitch_ms=50.0, lead_in_frames=5)
    assert slow.frames[-1].t_ns == 8 * real.frames[-1].t_ns
    assert all((a.pixels == b.pixels).all() for a, b in zip(slow.frames, real.frames, strict=True))
    # From rest the leading edge falls 80 px, 20 mm, past the border.
    assert real.truth.parts[0].speed_mm_s == pytest.approx((2 * 9810.0 * 24.0) ** 0.5)


def test_json() -> None:
    pour = simulate(demo_scene().model_copy(update={"duration_s": 1.0}))
    text = json.loads(pour.truth.to_json())
    assert text["schema"] == "viscount.truth/2"
    assert len(text["parts"]) == 24
    assert text["parts"][0]["line_t_ns"] == pour.truth.parts[0].line_t_ns
    jsonschema.validate(text, truth_schema())
    assert [f["t_ns"] for f in text["frames"]] == [time.t_ns for time in pour.times]


def test_unknown_is_null() -> None:
    shot = field_scene(parts=2, frames_after=1, beam=Beam(below_lip_mm=20.0, width_mm=1.0))
    part = json.loads(shot.truth.to_json())["parts"][1]
    assert (part["line_t_ns"], part["speed_px_s"], part["length_px"]) == (None, None, None)
    assert len(field_scene(part=box(30.0, 16.0)).truth.parts) == 10
