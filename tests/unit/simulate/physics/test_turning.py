"""Parts that turn freely, as symmetrical tops do."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    AnyPart,
    Ball,
    Box,
    Escapement,
    Nut,
    Scene,
    Screw,
    Times,
    Turning,
    Washer,
)
from viscount.simulate.solids import inertia_ratio, rotation_at_rest

Array = NDArray[np.float64]

SCREW = Screw(
    overall_length_mm=12.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
)
WASHER = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)
EDGE = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8, pose="edge")
STANDING = Nut(across_flats_mm=7.0, bore_mm=4.0, thickness_mm=3.2, pose="standing")
SOLIDS: list[AnyPart] = [SCREW, WASHER, EDGE, STANDING]
TUMBLING = Turning(
    angle_deg=30.0, tilt_deg=20.0, roll_deg=10.0, spin_deg_s=400.0, tumble_deg_s=700.0,
    twist_deg_s=900.0,
)  # fmt: skip


def integrate(part: AnyPart, turning: Turning, count: int = 1) -> Paths:
    release = Escapement(count=count, interval_ms=10.0)
    return paths(Scene(parts=(part,), release=release, turning=turning, lead_in_s=0.25), 200.0)


def rates(found: Paths, t: Array, part: int = 0) -> Array:
    """Differentiate a rotation: (n, 3) rates of turn in (along, across, depth)."""
    h = 1e-5
    slope = (found.rotation(part, t + h) - found.rotation(part, t - h)) / (2 * h)
    skew = slope @ np.swapaxes(found.rotation(part, t), -1, -2)
    return np.stack([skew[:, 2, 1], skew[:, 0, 2], skew[:, 1, 0]], axis=-1)


def test_angle_turns_the_leading_end_to_the_right_and_tilt_towards_the_camera() -> None:
    right = integrate(SCREW, Turning(angle_deg=30.0)).rotation(0, np.array(0.25))
    rest = rotation_at_rest(SCREW)
    leading = rest.T @ np.array([1.0, 0.0, 0.0])
    assert right @ leading == pytest.approx([math.cos(math.pi / 6), 0.5, 0.0])
    near = integrate(SCREW, Turning(tilt_deg=30.0)).rotation(0, np.array(0.25))
    assert near @ leading == pytest.approx([math.cos(math.pi / 6), 0.0, 0.5])
    both = integrate(SCREW, Turning(angle_deg=90.0, tilt_deg=30.0)).rotation(0, np.array(0.25))
    assert both @ leading == pytest.approx([0.0, math.cos(math.pi / 6), 0.5])


@pytest.mark.parametrize("part", SOLIDS)
def test_roll_is_about_the_own_axis(part: AnyPart) -> None:
    rest = rotation_at_rest(part)
    rolled = integrate(part, Turning(roll_deg=40.0)).rotation(0, np.array(0.25))
    assert rolled[:, 2] == pytest.approx(rest[:, 2])
    assert rolled[:, 0] @ rest[:, 0] == pytest.approx(math.cos(math.radians(40.0)))
    assert rolled[:, 0] @ rest[:, 1] == pytest.approx(math.sin(math.radians(40.0)))


@pytest.mark.parametrize("part", SOLIDS)
def test_spin_alone_turns_in_the_plane_of_the_picture(part: AnyPart) -> None:
    found = integrate(part, Turning(angle_deg=15.0, spin_deg_s=800.0))
    t = np.linspace(0.2, 0.6, 41)
    angle = found.angle(0, t)
    assert angle == pytest.approx(np.radians(15.0 + 800.0 * (t - 0.25)))
    cos, sin, zero = np.cos(angle), np.sin(angle), np.zeros_like(angle)
    plane = np.stack([cos, -sin, zero, sin, cos, zero, zero, zero, zero + 1], axis=-1)
    expected = plane.reshape(-1, 3, 3) @ rotation_at_rest(part)
    assert found.rotation(0, t) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("part", SOLIDS)
def test_momentum_and_energy_are_kept(part: AnyPart) -> None:
    """L = I omega and omega I omega / 2, with I1 = 1 and I3 the part's ratio."""
    found = integrate(part, TUMBLING)
    t = np.linspace(0.25, 1.5, 200)
    rotation, omega = found.rotation(0, t), rates(found, t)
    assert rotation @ np.swapaxes(rotation, 1, 2) == pytest.approx(np.tile(np.eye(3), (200, 1, 1)))
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    own = rotation[:, :, 2]
    about_own = np.sum(omega * own, axis=1)
    momentum = omega + (inertia_ratio(part) - 1) * about_own[:, None] * own
    assert momentum == pytest.approx(np.tile(momentum[0], (200, 1)), abs=1e-6)
    energy = np.sum(omega * momentum, axis=1) / 2
    assert energy == pytest.approx(energy[0], rel=1e-7)
    assert np.ptp(omega, axis=0).max() > 0.1


@pytest.mark.parametrize("part", SOLIDS)
def test_rates_begin_as_the_scene_says(part: AnyPart) -> None:
    """Each is the rate of its own angle: about depth, about the leant cross axis, about e3."""
    found = integrate(part, TUMBLING)
    angle = math.radians(30.0)
    beside = np.array([-math.sin(angle), math.cos(angle), 0.0])
    own = found.rotation(0, np.array(0.25))[:, 2]
    expected = np.radians(400.0) * np.array([0.0, 0.0, 1.0])
    expected = expected - np.radians(700.0) * beside + np.radians(900.0) * own
    assert rates(found, np.array([0.25]))[0] == pytest.approx(expected, abs=1e-6)


def test_precession_has_its_closed_rate() -> None:
    """Precession at I3 w3 / (I1 cos theta), theta between the axis and L: from memory."""
    found = integrate(SCREW, TUMBLING)
    start = np.array([0.25])
    omega, own = rates(found, start)[0], found.rotation(0, start)[0, :, 2]
    ratio, w3 = inertia_ratio(SCREW), float(omega @ own)
    momentum = omega + (ratio - 1) * w3 * own
    theta = math.acos(float(momentum @ own) / float(np.linalg.norm(momentum)))
    rate = ratio * w3 / math.cos(theta)
    assert rate == pytest.approx(float(np.linalg.norm(momentum)), rel=1e-6)
    # After one period of it the own axis is back where it was; after half of one it is not.
    period = 2 * math.pi / abs(rate)
    later = found.rotation(0, 0.25 + period * np.array([0.5, 1.0]))[:, :, 2]
    assert later[1] == pytest.approx(own, abs=1e-5)
    assert np.linalg.norm(later[0] - own) == pytest.approx(2 * abs(math.sin(theta)), rel=1e-5)


@pytest.mark.parametrize("part", SOLIDS)
def test_euler_s_equations_integrated_by_another(part: AnyPart) -> None:
    """scipy.integrate.solve_ivp of Euler's equations and of the rotation that they drive."""
    found = integrate(part, TUMBLING)
    ratio, start = inertia_ratio(part), found.rotation(0, np.array(0.25))
    omega = start.T @ rates(found, np.array([0.25]))[0]

    def motion(_: float, y: Array) -> Array:
        w, turned = y[:3], y[3:].reshape(3, 3)
        slope = [(1 - ratio) * w[1] * w[2], (ratio - 1) * w[0] * w[2], 0.0]
        cross = np.array([[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]])
        return np.concatenate([slope, (turned @ cross).ravel()])

    t = np.linspace(0.0, 0.5, 26)
    begin = np.concatenate([omega, start.ravel()])
    peer = solve_ivp(motion, (0.0, 0.5), begin, t_eval=t, rtol=1e-9, atol=1e-9)
    expected = peer.y[3:].T.reshape(-1, 3, 3)
    assert found.rotation(0, 0.25 + t) == pytest.approx(expected, abs=1e-5)


def test_a_box_stays_in_its_plane() -> None:
    box = integrate(Box(along_mm=8.0, across_mm=4.0), TUMBLING)
    t = np.linspace(0.25, 0.5, 20)
    plane = box.rotation(0, t) @ rotation_at_rest(Box(along_mm=8.0, across_mm=4.0)).T
    assert plane[:, 2, :] == pytest.approx(np.tile([0.0, 0.0, 1.0], (20, 1)))
    assert np.arctan2(plane[:, 1, 0], plane[:, 0, 0]) == pytest.approx(box.angle(0, t))


def test_a_ball_turns_steadily() -> None:
    ball = integrate(Ball(diameter_mm=4.0), TUMBLING)
    t = np.linspace(0.25, 0.5, 20)
    omega = rates(ball, t)
    assert omega == pytest.approx(np.tile(omega[0], (20, 1)), abs=1e-6)


def test_many_parts_are_asked_at_once_as_one_by_one() -> None:
    spread = Turning(tumble_spread_deg_s=400.0, twist_spread_deg_s=400.0, tilt_spread_deg=20.0)
    found = integrate(SCREW, spread, count=5)
    each, t = np.arange(5), np.linspace(0.3, 0.6, 5)
    together = found.rotation(each, t)
    for k in range(5):
        assert together[k] == pytest.approx(found.rotation(k, t[k]), abs=1e-12)


def test_spreads_have_their_stated_size() -> None:
    spread = Turning(tilt_spread_deg=5.0, tumble_deg_s=300.0, tumble_spread_deg_s=50.0)
    scene = Scene(parts=(SCREW,), release=Times(times_ms=(0.0,) * 2000), turning=spread)
    found = paths(scene, 1.0)
    leading = found.rotation(np.arange(2000), found.lip_s) @ (
        rotation_at_rest(SCREW).T @ np.array([1.0, 0.0, 0.0])
    )
    assert np.degrees(np.arcsin(leading[:, 2])).std() == pytest.approx(5.0, rel=0.08)
    turned = np.degrees(-found.tops.precession_rad_s[:, 1])
    assert turned.mean() == pytest.approx(300.0, rel=0.02)
    assert turned.std() == pytest.approx(50.0, rel=0.08)
