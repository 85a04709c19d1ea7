"""Crossings of the line, of parts that do not simply fall past it."""

from itertools import pairwise

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import Bounce, FreeFall, Scene, Screw, Stuck, Times, View
from viscount.simulate.solids import projected, rotation_at_rest

SCREW = Screw(
    overall_length_mm=16.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
)
LINE_PX, SCALE = 220.0, 4.0


def offset_mm() -> float:
    """How far downstream of its centre of mass the screw's centroid is: its head is heavy."""
    return projected(SCREW, rotation_at_rest(SCREW)).offset[0]


def screws(**more: object) -> Scene:
    plain = {
        "parts": (SCREW,),
        "release": Times(times_ms=(0.0, 400.0)),
        "motion": FreeFall(),
        "lip_speed_mm_s": 450.0,
        "view": View(lip_px=-40.0, line_px=LINE_PX, scale_px_per_mm=SCALE),
        "lead_in_s": 0.1,
    }
    return Scene.model_validate(plain | more)


def line_mm(scene: Scene) -> float:
    return upright(scene).along_mm(LINE_PX)


def paths(pour: Pour):
    return pour._paths


def test_the_centroid_is_ahead_of_the_centre_of_mass() -> None:
    assert 0.5 < offset_mm() < 2.0
    pour = simulate(screws())
    expected = paths(pour).arrival(line_mm(pour.scene) - offset_mm())
    for part, t_s in zip(pour.truth.parts, expected, strict=True):
        assert part.line_t_ns == pytest.approx(t_s * 1e9, abs=2)
        assert part.recrossings == ()


def test_a_part_that_sticks_across_the_line_crosses_before_it_sticks() -> None:
    """Its centroid is past the line, its centre of mass is not, for a quarter of a second."""
    here = line_mm(screws())
    stuck = Stuck(part=0, below_lip_mm=here - offset_mm() / 2, for_ms=250.0)
    pour = simulate(screws(stuck=(stuck,)))
    expected = paths(pour).arrival(here - offset_mm())
    late = paths(pour).arrival(here)
    assert late[0] > expected[0] + 0.25
    part = pour.truth.parts[0]
    assert part.line_t_ns == pytest.approx(expected[0] * 1e9, abs=2)
    assert part.recrossings == ()
    assert (part.speed_px_s or 0.0) > 1000.0


def test_a_part_that_turns_round_across_the_line_crosses_three_times() -> None:
    """Its centre of mass turns round before the line, its centroid has passed it by then."""
    here = line_mm(screws())
    bounce = Bounce(below_lip_mm=here - offset_mm() / 2, parts=(0,), restitution=0.5)
    pour = simulate(screws(bounce=bounce))
    bounced, other = pour.truth.parts
    assert [r.direction for r in bounced.recrossings] == ["against", "with"]
    assert other.recrossings == ()
    assert pour.truth.crossed == 2
    times = [bounced.line_t_ns or 0, *(r.t_ns for r in bounced.recrossings)]
    assert all(early < late for early, late in pairwise(times))
    places = [paths(pour).along(0, np.array(t * 1e-9))[0] + offset_mm() for t in times]
    assert places == pytest.approx([here] * 3, abs=1e-4)


def test_a_part_that_only_just_comes_over_the_line_is_not_missed() -> None:
    """It is past the line for less than a millisecond before it turns round."""
    here = line_mm(screws())
    bounce = Bounce(below_lip_mm=here - offset_mm() + 0.2, parts=(0,), restitution=0.5)
    bounced = simulate(screws(bounce=bounce)).truth.parts[0]
    assert [r.direction for r in bounced.recrossings] == ["against", "with"]
    assert 0 < bounced.recrossings[0].t_ns - (bounced.line_t_ns or 0) < 1_000_000


def test_what_turns_round_before_the_line_crosses_once() -> None:
    here = line_mm(screws())
    bounce = Bounce(below_lip_mm=here - offset_mm() - 0.2, parts=(0,), restitution=0.5)
    bounced = simulate(screws(bounce=bounce)).truth.parts[0]
    assert bounced.recrossings == ()
    assert bounced.line_t_ns is not None


def test_nothing_crosses_after_the_last_frame_or_before_the_first() -> None:
    early = simulate(screws(duration_s=0.05)).truth
    assert [part.line_t_ns for part in early.parts] == [None, None]
    late = simulate(screws(lead_in_s=-0.3)).truth
    assert late.parts[0].line_t_ns is None
    assert late.parts[1].line_t_ns is not None
