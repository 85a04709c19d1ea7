"""Beam edges against the law of the light barrier."""

from pathlib import Path

import numpy as np
import pytest

from viscount.simulate.barrier import BeamEdge, Watched, write_beam_log
from viscount.simulate.barrier.switching import blocked_s
from viscount.simulate.demo import M4X12, demo_scene
from viscount.simulate.physics import Paths, paths
from viscount.simulate.pour import simulate
from viscount.simulate.scene import (
    Ball,
    Beam,
    Belt,
    Bounce,
    Box,
    Cycle,
    Escapement,
    FreeFall,
    Gate,
    Lanes,
    Part,
    Scene,
    Stuck,
    Times,
    Turning,
    Washer,
)

FLAT = Washer(diameter_mm=10.0, bore_mm=5.0, thickness_mm=1.0)
ON_EDGE = FLAT.model_copy(update={"pose": "edge"})


def edges(
    part: Part,
    beam: Beam,
    times_ms: tuple[float, ...] = (10.0,),
    speed_mm_s: float = 1500.0,
    **more: object,
) -> tuple[BeamEdge, ...]:
    fields: dict[str, object] = {"motion": Belt(speed_mm_s=speed_mm_s), "lead_in_s": 0.0}
    release = Times(times_ms=times_ms)
    return simulate(Scene(parts=(part,), release=release, beam=beam, **(fields | more))).edges


def spans_ms(found: tuple[BeamEdge, ...]) -> list[float]:
    """Times between edges, dark and light in turn."""
    assert [e.blocked for e in found] == [True, False] * (len(found) // 2)
    return (np.diff([e.t_ns for e in found]) * 1e-6).tolist()


@pytest.mark.parametrize("theta", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("width_mm", [0.5, 2.0, 6.0])
@pytest.mark.parametrize("part", [M4X12, Box(along_mm=8.0, across_mm=8.0)], ids=["screw", "box"])
def test_pulse_of_a_part_longer_than_the_beam(part: Part, width_mm: float, theta: float) -> None:
    """(L + w (1 - 2 theta)) / v."""
    length = 16.0 if part is M4X12 else 8.0
    beam = Beam(below_lip_mm=20.0, width_mm=width_mm, threshold=theta)
    expected = (length + width_mm * (1 - 2 * theta)) / 1500.0 * 1e3
    assert spans_ms(edges(part, beam)) == pytest.approx([expected], abs=1e-5)


@pytest.mark.parametrize("theta", [0.2, 0.5, 0.8])
def test_spot_sees_the_same_law(theta: float) -> None:
    beam = Beam(below_lip_mm=20.0, width_mm=2.0, threshold=theta, sees="spot")
    expected = (8.0 + 2.0 * (1 - 2 * theta)) / 1500.0 * 1e3
    found = spans_ms(edges(Box(along_mm=8.0, across_mm=8.0), beam))
    assert found == pytest.approx([expected], abs=1e-5)


def test_pulse_in_free_fall_follows_the_fall() -> None:
    """Head in and tail out by t = (-v0 + sqrt(v0² + 2 g y)) / g."""
    g, v0 = 9806.65, 400.0
    beam = Beam(below_lip_mm=20.0, width_mm=1.0, threshold=0.3)
    found = edges(Box(along_mm=8.0, across_mm=8.0), beam, motion=FreeFall(), lip_speed_mm_s=v0)
    at = np.array([20.0 - 4.0 - 0.2, 20.0 + 4.0 + 0.2])
    expected = 0.010 + (-v0 + np.sqrt(v0**2 + 2 * g * at)) / g
    assert [e.t_ns * 1e-9 for e in found] == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize(("width_mm", "pulses"), [(1.9, 1), (2.1, 0)])
def test_part_thinner_than_the_threshold_is_not_seen(width_mm: float, pulses: int) -> None:
    """L / w below theta gives no pulse: a washer of 1 mm on its edge, theta 0.5."""
    assert len(edges(ON_EDGE, Beam(below_lip_mm=20.0, width_mm=width_mm))) == 2 * pulses


@pytest.mark.parametrize(("clear_mm", "pulses"), [(0.58, 1), (0.62, 2)])
def test_two_parts_are_one_pulse_when_too_close(clear_mm: float, pulses: int) -> None:
    """Clear distance below (1 - theta) w: 0.3 x 2 mm = 0.6 mm."""
    beam = Beam(below_lip_mm=20.0, width_mm=2.0, threshold=0.7)
    later = 10.0 + (8.0 + clear_mm) / 1.5
    found = edges(Box(along_mm=8.0, across_mm=8.0), beam, (10.0, later))
    assert len(found) == 2 * pulses


def test_flat_washer_is_two_pulses_where_the_beam_passes_its_bore() -> None:
    """Washers 10/5 mm at 1.5 m/s every 8 ms: dark 1.67, light 3.33, dark 1.67, light 1.33 ms."""
    beam = Beam(below_lip_mm=20.0, width_mm=0.1, sees="spot")
    found = spans_ms(edges(FLAT, beam, (10.0, 18.0)))
    expected = [5 / 3, 10 / 3, 5 / 3, 4 / 3, 5 / 3, 10 / 3, 5 / 3]
    assert found == pytest.approx(expected, abs=0.01)


def test_flat_washer_is_one_pulse_beside_its_bore() -> None:
    """A chord 3 mm off the middle is 8 mm long."""
    beam = Beam(below_lip_mm=20.0, width_mm=0.1, sees="spot", across_mm=3.0)
    assert spans_ms(edges(FLAT, beam)) == pytest.approx([8.0 / 1.5], abs=0.02)
    beside = beam.model_copy(update={"across_mm": 5.2})
    assert edges(FLAT, beside) == ()
    assert len(edges(FLAT, beam.model_copy(update={"sees": "projection"}))) == 2


def test_spot_follows_the_lane_and_the_angle() -> None:
    """A 16 mm screw turned to lie across the fall shows its 4 mm shank 5 mm to the right."""
    beam = Beam(below_lip_mm=40.0, width_mm=0.2, sees="spot", across_mm=5.0)
    across = {"turning": Turning(angle_deg=90.0), "lanes": Lanes(positions_mm=(0.0,))}
    assert spans_ms(edges(M4X12, beam, **across)) == pytest.approx([4.0 / 1.5], abs=0.01)
    left = beam.model_copy(update={"across_mm": -5.0})
    assert spans_ms(edges(M4X12, left, **across)) == pytest.approx([7.0 / 1.5], abs=0.01)
    moved = across | {"lanes": Lanes(positions_mm=(10.0,))}
    assert spans_ms(edges(M4X12, beam, **moved)) == pytest.approx([7.0 / 1.5], abs=0.01)


def test_spot_sees_the_chord_of_a_turned_part() -> None:
    """A box of 8 x 4 mm turned by 30°, 1 mm off its middle: both ends of the chord by hand.

    |cos30 a + sin30| <= 4 and |cos30 - sin30 a| <= 2 leave a from -2.268 to 4.041 mm.
    """
    beam = Beam(below_lip_mm=20.0, width_mm=0.05, sees="spot", across_mm=1.0)
    found = edges(Box(along_mm=8.0, across_mm=4.0), beam, turning=Turning(angle_deg=30.0))
    head, tail = (20.0 - 4.041) / 1.5 + 10.0, (20.0 + 2.268) / 1.5 + 10.0
    assert [e.t_ns * 1e-6 for e in found] == pytest.approx([head, tail], abs=0.03)


def test_a_turning_part_is_taken_as_it_lies_in_the_beam() -> None:
    """A box of 8 x 4 mm that has turned by 90° when its middle is there shows its 4 mm."""
    beam = Beam(below_lip_mm=20.0, width_mm=0.05, sees="spot")
    turning = Turning(spin_deg_s=90.0 / (20.0 / 1500.0))
    found = spans_ms(edges(Box(along_mm=8.0, across_mm=4.0), beam, turning=turning))
    assert found == pytest.approx([4.0 / 1.5], abs=0.03)


def test_parts_side_by_side_take_no_more_light_than_one() -> None:
    """Two thin washers on edge in two lanes at once stay below the threshold of one."""
    beam = Beam(below_lip_mm=20.0, width_mm=2.5)
    lanes = Lanes(positions_mm=(-8.0, 8.0))
    assert edges(ON_EDGE, beam, (10.0, 10.0), lanes=lanes) == ()
    # One behind the other they do not.
    assert len(edges(ON_EDGE, beam, (10.0, 10.0 + 1.0 / 1.5), lanes=lanes)) == 2


def test_delays_of_the_sensor() -> None:
    """Pulse plus release delay minus operate delay; a gap shorter than that goes unseen."""
    box = Box(along_mm=8.0, across_mm=8.0)
    plain = Beam(below_lip_mm=20.0, width_mm=0.1)
    slow = plain.model_copy(update={"operate_us": 100.0, "release_us": 300.0})
    first, late = edges(box, plain), edges(box, slow)
    assert late[0].t_ns - first[0].t_ns == pytest.approx(100_000, abs=2)
    assert late[1].t_ns - first[1].t_ns == pytest.approx(300_000, abs=2)
    for clear_ms, pulses in [(0.28, 1), (0.32, 2)]:
        times = (10.0, 10.0 + 8.0 / 1.5 + clear_ms)
        assert len(edges(box, plain, times)) == 4
        assert len(edges(box, slow, times)) == 2 * pulses


def test_own_clock() -> None:
    beam = Beam(below_lip_mm=20.0, width_mm=1.0, offset_s=0.35, drift_ppm=20.0)
    for edge in edges(M4X12, beam, (10.0, 5010.0)):
        expected = 0.35 + edge.t_ns * 1e-9 * (1 + 20e-6)
        assert edge.device_t_ns * 1e-9 == pytest.approx(expected, abs=2e-9)


def test_beam_log(tmp_path: Path) -> None:
    beam = Beam(below_lip_mm=20.0, width_mm=1.0, offset_s=0.35)
    found = edges(M4X12, beam, (10.0, 60.0))
    write_beam_log(tmp_path / "beam.csv", beam, Watched(edges=found), 0.5)
    lines = (tmp_path / "beam.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "time_s,blocked,seq,boot"
    assert lines[1] == "0.350000,0,0,0"
    assert lines[-1] == "# end 0.850000"
    rows = [line.split(",") for line in lines[2:-1]]
    assert [(row[1], row[2], row[3]) for row in rows] == [
        ("1", "1", "0"),
        ("0", "2", "0"),
        ("1", "3", "0"),
        ("0", "4", "0"),
    ]
    for row, edge in zip(rows, found, strict=True):
        assert float(row[0]) == pytest.approx(edge.device_t_ns * 1e-9, abs=5.1e-7)


def test_log_that_begins_in_mid_part(tmp_path: Path) -> None:
    beam = Beam(below_lip_mm=20.0, width_mm=1.0)
    release = Times(times_ms=(-14.0,))
    motion = Belt(speed_mm_s=1500.0)
    scene = Scene(parts=(M4X12,), release=release, beam=beam, motion=motion, lead_in_s=0.0)
    found = simulate(scene).watched
    assert [e.blocked for e in found.edges] == [False]
    write_beam_log(tmp_path / "beam.csv", beam, found, 0.5)
    lines = (tmp_path / "beam.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1] == "0.000000,1,0,0"


def test_demo_is_one_pulse_a_part() -> None:
    pour = simulate(demo_scene())
    assert len(pour.edges) == 48
    assert all(0 <= e.t_ns * 1e-9 <= pour.end_s for e in pour.edges)
    middles = np.array([e.t_ns for e in pour.edges]).reshape(-1, 2).mean(axis=1)
    # A screw's centre of mass is 2 mm or so from the middle of its length.
    assert middles == pytest.approx([p.beam_t_ns for p in pour.truth.parts], abs=5e6)


def dropped(**more: object) -> Scene:
    """A ball of 4 mm that falls from rest at 0 ms, and a beam of no width to speak of."""
    fields: dict[str, object] = {
        "parts": (Ball(diameter_mm=4.0),),
        "release": Escapement(count=1, interval_ms=9.0),
        "beam": Beam(below_lip_mm=40.0, width_mm=1e-3),
        "lead_in_s": 0.0,
        "duration_s": 1.0,
    }
    return Scene.model_validate(fields | more)


def fall_s(mm: float) -> float:
    return float(np.sqrt(2 * mm / 9806.65))


def test_a_part_that_bounces_back_through_the_beam_comes_three_times() -> None:
    """Down through 40 mm, at 60 mm up with the same speed, and down again: by symmetry."""
    scene = dropped(bounce=Bounce(below_lip_mm=60.0, parts=(0,), restitution=1.0))
    enters, leaves, turns = fall_s(38.0), fall_s(42.0), fall_s(60.0)
    again = 2 * turns
    expected = [
        (enters, leaves),
        (again - leaves, again - enters),
        (again + enters, again + leaves),
    ]
    assert blocked_s(*_with_paths(scene)) == pytest.approx(np.array(expected), abs=1e-6)


def test_a_part_that_turns_back_within_the_beam_comes_twice() -> None:
    """It bounces with its middle 1 mm above the beam, 2 mm being its radius."""
    scene = dropped(bounce=Bounce(below_lip_mm=39.0, parts=(0,), restitution=1.0))
    enters, turns = fall_s(38.0), fall_s(39.0)
    again = 2 * turns
    expected = [(enters, again - enters), (again + enters, again + fall_s(42.0))]
    assert blocked_s(*_with_paths(scene)) == pytest.approx(np.array(expected), abs=1e-6)


def test_a_part_that_sticks_in_the_beam_blocks_it_until_it_falls_on() -> None:
    """With its middle 1 mm above the beam it has 3 mm to fall from rest."""
    scene = dropped(stuck=(Stuck(part=0, below_lip_mm=39.0, for_ms=300.0),))
    goes_on = fall_s(39.0) + 0.3
    expected = [(fall_s(38.0), goes_on + fall_s(3.0))]
    assert blocked_s(*_with_paths(scene)) == pytest.approx(np.array(expected), abs=1e-6)


def test_a_part_that_is_held_in_the_beam_for_good_blocks_it_for_good() -> None:
    """It lies on the blade with its middle above the beam; the next one lies on it."""
    gate = Gate(below_lip_mm=41.5, cycles=(Cycle(open_ms=-90.0, shut_ms=-50.0),))
    two = Escapement(count=2, interval_ms=100.0)
    found = blocked_s(*_with_paths(dropped(gate=gate, release=two)))
    assert found == pytest.approx(np.array([[fall_s(38.0), np.inf]]), abs=1e-6)


def test_a_part_that_waits_at_the_lip_in_the_beam_blocks_it_from_its_release() -> None:
    scene = dropped(beam=Beam(below_lip_mm=1.0, width_mm=1e-3))
    assert blocked_s(*_with_paths(scene)) == pytest.approx(np.array([[0.0, fall_s(3.0)]]), abs=1e-6)


def test_a_part_that_comes_again_takes_its_light_once() -> None:
    """Another part rests near the spot, beside it, while the first comes and comes again."""
    found = dropped(
        release=Times(times_ms=(0.0, 0.0)),
        lanes=Lanes(positions_mm=(0.0, 50.0)),
        bounce=Bounce(below_lip_mm=60.0, parts=(0,), restitution=1.0),
        stuck=(Stuck(part=1, below_lip_mm=40.0, for_ms=800.0),),
        beam=Beam(below_lip_mm=40.0, width_mm=2.0, threshold=0.25, sees="spot", breadth_mm=0.01),
    )
    # A quarter of 2 mm is lost 0.5 mm after the first touch, which is 2 mm + 1 mm away.
    enters, leaves, again = fall_s(37.5), fall_s(42.5), 2 * fall_s(60.0)
    expected = [
        (enters, leaves),
        (again - leaves, again - enters),
        (again + enters, again + leaves),
    ]
    assert blocked_s(*_with_paths(found)) == pytest.approx(np.array(expected), abs=1e-5)


def _with_paths(scene: Scene) -> tuple[Scene, Paths]:
    return scene, paths(scene, 100.0)
