"""The bound on crossing times, against a closed form and against an estimator that reaches it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import Belt, Box, Camera, FreeFall, Recording, Scene, Times, View
from viscount.simulate.truth.bound import crossing_sigma_s, place_variance
from viscount.simulate.truth.places import picture_speed

BLUR, NOISE, CONTRAST, WIDE_PX = 1.5, 3.0, 100.0, 16.0
SPEED_PX_S = 3000.0


def pour(**camera: object) -> Pour:
    return simulate(
        Scene(
            parts=(Box(along_mm=8.0, across_mm=WIDE_PX / 4),),
            release=Times(times_ms=(0.0,)),
            motion=Belt(speed_mm_s=SPEED_PX_S / 4),
            view=View(width_px=64, height_px=200, lip_px=-20.0, line_px=100.0),
            camera=Camera.model_validate(
                {
                    "fps": 120.0,
                    "exposure_us": 1.0,
                    "noise": NOISE,
                    "background_grey": 180.0,
                    "part_grey": 180.0 - CONTRAST,
                    "blur_px": BLUR,
                }
                | camera
            ),
            recording=Recording(codec="ffv1"),
            lead_in_s=0.0,
            bound=True,
        )
    )


def plate_information() -> float:
    """The information that one frame holds on the place of the plate, 1/px²."""
    sigma = math.sqrt(BLUR**2 + 1 / 12)
    broad = WIDE_PX - 2 * sigma / math.sqrt(math.pi)
    return broad * CONTRAST**2 / (sigma * math.sqrt(math.pi)) / (NOISE**2 + 1 / 12)


def test_place_of_a_plate_with_blurred_ends() -> None:
    """An edge of contrast c under a Gaussian lens of sigma s: the slope squared adds up to
    c² / (2 s sqrt(pi)) along it, so that both ends of a plate b broad hold b c² / (s sqrt(pi)).

    The integral of a squared Gaussian (any table). The lens blurs pixels, which adds 1/12 to s²;
    across the plate the lens thins its two sides out: of the sum of squares is left
    b - 2 s / sqrt(pi), the integral of the squared step.
    """
    made = pour()
    time = next(
        t for t, f in zip(made.times, made.truth.frames, strict=True) if f.seen and f.seen[0].whole
    )
    found = place_variance(made.studio, made.scene.camera, time, 0, SPEED_PX_S)
    assert found == pytest.approx(1 / plate_information(), rel=0.03)


@pytest.mark.parametrize("place_px", [40.0, 100.0, 160.0])
def test_place_of_a_plate_that_falls_faster_and_faster(place_px: float) -> None:
    """The same closed form, wherever in the view and however fast the plate is by then.

    From rest 15 mm above the view it is at 2.8 to 4.2 px/ms there.
    """
    scene = pour().scene
    fall = {"motion": FreeFall(), "view": scene.view.model_copy(update={"lip_px": -60.0})}
    made = simulate(scene.model_copy(update=fall))
    paths, up = made.studio._paths, upright(scene.model_copy(update=fall))
    (t_s,) = paths.arrival(up.along_mm(place_px))
    time = replace(made.times[0], shown_t_ns=round(t_s * 1e9))
    speed = float(picture_speed(paths, up, 0, np.array(t_s)))
    found = place_variance(made.studio, made.scene.camera, time, 0, speed)
    assert found == pytest.approx(1 / plate_information(), rel=0.03)


def test_a_falling_part_has_the_bound_of_its_own_frames() -> None:
    """From the closed form of each frame's place: weighted least squares.

    The line lies low, so that the plate is slower than there in nearly every frame.
    """
    scene = pour().scene
    low = scene.view.model_copy(update={"lip_px": -20.0, "line_px": 175.0})
    made = simulate(scene.model_copy(update={"motion": FreeFall(), "view": low}))
    part = made.truth.parts[0]
    shows = [f.t_ns * 1e-9 for f in made.truth.frames if any(s.whole for s in f.seen)]
    assert len(shows) >= 4
    since = np.array(shows) - (part.line_t_ns or 0) * 1e-9
    weight = np.full(len(since), math.sqrt(plate_information()))
    _, covariance = np.polyfit(since, np.zeros(len(since)), 1, w=weight, cov="unscaled")
    expected_ns = math.sqrt(covariance[1, 1]) / (part.speed_px_s or 0.0) * 1e9
    assert part.bound_sigma_ns == pytest.approx(expected_ns, rel=0.02)


def test_frames_in_which_a_part_touches_another_tell_nothing() -> None:
    """A second plate falls just behind the first: no frame shows either of them alone."""
    alone = pour().truth.parts[0].bound_sigma_ns
    scene = pour().scene
    for behind_ms, known in ((40.0, True), (10.9, False)):
        release = Times(times_ms=(0.0, behind_ms))
        parts = simulate(scene.model_copy(update={"release": release})).truth.parts
        bounds = [part.bound_sigma_ns for part in parts]
        assert bounds[0] == (pytest.approx(alone, rel=1e-6) if known else None)
        assert (bounds[1] is not None) is known


def test_line_through_two_and_three_sightings() -> None:
    """Weighted least squares; scipy and numpy's polyfit give the same (covariance unscaled)."""
    t = np.array([0.0, 0.01, 0.02, 0.03])
    sigma = np.array([0.05, 0.04, 0.06, 0.05])
    found = crossing_sigma_s(zip(t, sigma**2, strict=True), 0.012, 2000.0)
    _, covariance = np.polyfit(t - 0.012, np.zeros(4), 1, w=1 / sigma, cov="unscaled")
    assert found == pytest.approx(math.sqrt(covariance[1, 1]) / 2000.0)
    assert crossing_sigma_s([(0.0, 1.0)], 0.0, 1.0) is None


def test_a_template_fit_reaches_the_bound() -> None:
    """Least squares of the known picture is efficient: its scatter is the bound."""
    made = pour()
    time = next(
        t for t, f in zip(made.times, made.truth.frames, strict=True) if f.seen and f.seen[0].whole
    )
    studio, camera = made.studio, made.scene.camera
    shift_ns = 100_000
    clean = studio.part_alone(time, 0).astype(float)
    later, sooner = (
        studio.part_alone(replace(time, shown_t_ns=time.shown_t_ns + s), 0).astype(float)
        for s in (shift_ns, -shift_ns)
    )
    slope = (later - sooner) / (2 * shift_ns * 1e-9 * SPEED_PX_S)
    rng = np.random.default_rng(5)
    found = []
    for _ in range(400):
        noisy = np.rint(clean + NOISE * rng.standard_normal(clean.shape))
        found.append(float(((noisy - clean) * slope).sum() / (slope**2).sum()))
    bound = place_variance(studio, camera, time, 0, SPEED_PX_S)
    assert np.var(found) == pytest.approx(bound, rel=0.25)
    assert np.mean(found) == pytest.approx(0.0, abs=4 * math.sqrt(bound / 400))


def test_more_noise_more_doubt_and_blur_too() -> None:
    bounds = [
        pour(**camera).truth.parts[0].bound_sigma_ns
        for camera in ({}, {"noise": 2 * NOISE}, {"blur_px": 3.0}, {"shot_noise": 0.1})
    ]
    assert all(bound is not None for bound in bounds)
    plain, noisy, blurred, shot = (float(b or 0) for b in bounds)
    ratio = math.sqrt((4 * NOISE**2 + 1 / 12) / (NOISE**2 + 1 / 12))
    assert noisy / plain == pytest.approx(ratio, rel=1e-3)
    assert blurred > 1.3 * plain
    assert shot > plain
