"""Pictures: blur, rolling shutter, light, noise and the places of parts."""

import numpy as np
import pytest
from scenes import ANNULUS, box
from skimage.measure import label, regionprops

from viscount.simulate.demo import M4X12, demo_scene
from viscount.simulate.pour import simulate
from viscount.simulate.scene import (
    Ball,
    Belt,
    Box,
    Camera,
    Escapement,
    FreeFall,
    Lanes,
    Light,
    Part,
    Resting,
    Scene,
    Step,
    Surroundings,
    Times,
    Turning,
    View,
)
from viscount.values import Falls, Marks

BACKGROUND, GREY = 200.0, 50.0
STILL = Camera(fps=100.0, exposure_us=0.0, noise=0.0, background_grey=BACKGROUND, part_grey=GREY)
TALL = View(width_px=80, height_px=400, lip_px=0.0, line_px=200.0)


def belt_scene(speed_px_s: float, part: Part | None = None, **more: object) -> Scene:
    """One part whose centroid is at row 200 when frame 10 is taken, at 4 px/mm."""
    fields: dict[str, object] = {
        "parts": (part or box(40.0, 20.0),),
        "release": Times(times_ms=(100.0 - 200e3 / speed_px_s,)),
        "motion": Belt(speed_mm_s=speed_px_s / 4),
        "view": TALL,
        "camera": STILL,
        "lead_in_s": 0.0,
        "duration_s": 0.1,
    }
    return Scene(**(fields | more))


def picture(scene: Scene, k: int = -1) -> np.ndarray:
    """Frame k without noise and rounding."""
    return list(simulate(scene).noiseless())[k][1]


def contrast(scene: Scene) -> np.ndarray:
    """The share of the last frame's pixels that parts cover, averaged over the exposure."""
    return (BACKGROUND - picture(scene)) / (BACKGROUND - GREY)


def camera(**more: object) -> Camera:
    return STILL.model_copy(update=more)


@pytest.mark.parametrize(
    ("speed_m_s", "exposure_us", "blur_mm"),
    [(1.4, 200.0, 0.28), (1.4, 500.0, 0.70), (1.4, 1000.0, 1.4), (1.4, 5000.0, 7.0)],
)
def test_blur_is_speed_times_exposure(speed_m_s: float, exposure_us: float, blur_mm: float) -> None:
    """Blur = v x exposure, calculated. An edge blurred evenly over b has a slope of sd b/sqrt 12.

    The pixel's own width and its sampling add 1/12 px² each, on average over where it falls;
    drawing in steps of a quarter of a pixel takes up to 0.007 mm off.
    """
    speed = speed_m_s * 4000.0
    variances = []
    for phase in range(8):
        late_ms = 100.0 - (200.0 - phase / 8) / speed * 1e3
        scene = belt_scene(
            speed, release=Times(times_ms=(late_ms,)), camera=camera(exposure_us=exposure_us)
        )
        profile = contrast(scene)[:, 40]
        slope, at = np.diff(profile[:200]), np.arange(199)
        middle = (slope * at).sum() / slope.sum()
        variances.append((slope * (at - middle) ** 2).sum() / slope.sum())
        assert profile.sum() == pytest.approx(40.0, rel=1e-3)
    assert np.sqrt(12 * np.mean(variances) - 2) / 4 == pytest.approx(blur_mm, abs=0.007)


@pytest.mark.parametrize(
    ("speed_px_s", "readout", "factor"),
    [
        (2000.0, "down", 1.06780),
        (5000.0, "down", 1.18870),
        (5000.0, "up", 0.86300),
        (5000.0, "right", 1.0),
        (5000.0, "global", 1.0),
    ],
)
def test_rolling_shutter_stretches(speed_px_s: float, readout: str, factor: float) -> None:
    """1 / (1 - v t_row) at t_row 31.749 us (a 640 x 480 phone-class sensor), calculated.

    Readout against the fall is the same as falling at -v with it.
    """
    scene = belt_scene(speed_px_s, camera=camera(fps=70.0, readout=readout, line_time_us=31.749))
    cover = contrast(scene)
    assert cover[:, 40].sum() == pytest.approx(40.0 * factor, rel=1e-3)
    assert cover.sum(axis=1).max() == pytest.approx(20.0, rel=0.3)


@pytest.mark.parametrize(
    ("falls", "readout", "factor"),
    [
        (Falls.UP, "up", 1.18870),
        (Falls.UP, "down", 0.86300),
        (Falls.UP, "left", 1.0),
        (Falls.RIGHT, "right", 1.18870),
        (Falls.RIGHT, "left", 0.86300),
        (Falls.LEFT, "left", 1.18870),
        (Falls.LEFT, "right", 0.86300),
        (Falls.LEFT, "down", 1.0),
    ],
)
def test_readout_is_a_direction_in_the_picture(falls: Falls, readout: str, factor: float) -> None:
    """As above at 5000 px/s: what counts is whether parts fall with the readout or against it."""
    lip = 0.0 if falls.sign > 0 else 399.0
    size = (80, 400) if falls.vertical else (400, 80)
    view = View(width_px=size[0], height_px=size[1], falls=falls, lip_px=lip, line_px=200.0)
    scene = belt_scene(
        5000.0, view=view, camera=camera(fps=70.0, readout=readout, line_time_us=31.749)
    )
    cover = contrast(scene)
    along = cover[:, 40] if falls.vertical else cover[40]
    assert along.sum() == pytest.approx(40.0 * factor, rel=1e-3)


def test_truth_of_a_part_that_nearly_keeps_pace_with_the_readout() -> None:
    """At v t_row = 0.9 a part of 8 px is drawn 80 px long."""
    still = camera(fps=10.0, readout="down", line_time_us=180.0)
    scene = belt_scene(5000.0, part=box(8.0, 20.0), camera=still)
    # It is on row 200 when that row is exposed, 36 ms after the frame's time.
    pour = simulate(scene.model_copy(update={"release": Times(times_ms=(96.0,))}))
    cover = (BACKGROUND - list(pour.noiseless())[-1][1])[:, 40] / (BACKGROUND - GREY)
    assert cover.sum() == pytest.approx(80.0, rel=0.01)
    seen = pour.truth.frames[-1].seen
    assert [s.y_px for s in seen] == [pytest.approx(200.0, abs=1e-3)]
    assert (cover * np.arange(400)).sum() / cover.sum() == pytest.approx(200.0, abs=0.1)


@pytest.mark.parametrize("readout", ["down", "up", "left", "right"])
@pytest.mark.parametrize("falls", list(Falls))
def test_truth_is_where_the_rolling_shutter_draws_it(readout: str, falls: Falls) -> None:
    wide = (TALL.width_px, TALL.height_px)
    size = wide if falls.vertical else wide[::-1]
    lip = 0.0 if falls.sign > 0 else 399.0
    view = TALL.model_copy(
        update={"width_px": size[0], "height_px": size[1], "falls": falls, "lip_px": lip}
    )
    scene = belt_scene(
        5000.0, view=view, camera=camera(readout=readout, line_time_us=20.0, exposure_us=100.0)
    )
    pour = simulate(scene)
    cover = BACKGROUND - list(pour.noiseless())[-1][1]
    rows, columns = np.indices(cover.shape)
    seen = pour.truth.frames[-1].seen
    assert [s.part for s in seen] == [0]
    assert seen[0].y_px == pytest.approx((cover * rows).sum() / cover.sum(), abs=0.02)
    assert seen[0].x_px == pytest.approx((cover * columns).sum() / cover.sum(), abs=0.02)


@pytest.mark.parametrize(
    ("part", "turning"),
    [
        (M4X12, Turning(angle_deg=20.0, spin_deg_s=300.0)),
        (ANNULUS, Turning()),
        (Ball(diameter_mm=5.0), Turning()),
        (Box(along_mm=6.0, across_mm=3.0), Turning(angle_deg=40.0)),
    ],
    ids=["screw", "washer", "ball", "box"],
)
def test_truth_agrees_with_region_centroids(part: Part, turning: Turning) -> None:
    """skimage.measure.regionprops, weighted by contrast, on noise-free frames."""
    scene = Scene(
        parts=(part,),
        release=Escapement(count=5, interval_ms=55.0),
        lip_speed_mm_s=300.0,
        lanes=Lanes(positions_mm=(-4.0, 3.1)),
        turning=turning,
        view=View(width_px=160, height_px=480, lip_px=-30.0, line_px=300.0),
        camera=camera(exposure_us=300.0, blur_px=0.7),
        lead_in_s=0.05,
    )
    pour = simulate(scene)
    compared = 0
    for (_, image), frame in zip(pour.noiseless(), pour.truth.frames, strict=True):
        cover = BACKGROUND - image
        # Regions as wide as the blur reaches, so that no part of the contrast is cut off.
        found = regionprops(label(cover > 0.02), intensity_image=cover)
        centres = np.array([r.centroid_weighted for r in found]).reshape(-1, 2)
        for seen in frame.seen:
            # Nearer to the border than this, blur is cut off.
            if 40 < seen.y_px < 440:
                assert seen.whole
                off = np.hypot(centres[:, 0] - seen.y_px, centres[:, 1] - seen.x_px)
                assert off.min() < 0.1
                compared += 1
        # The blur of a part that is about to come in may show before the part does.
        assert len(frame.seen) <= len(found) <= len(frame.seen) + 1
    assert compared > 20


def test_every_direction_is_the_same_picture_turned() -> None:
    def shot(falls: Falls, width: int, height: int, lip: float, line: float) -> np.ndarray:
        view = View(width_px=width, height_px=height, falls=falls, lip_px=lip, line_px=line)
        scene = belt_scene(4000.0, part=M4X12, view=view, lanes=Lanes(positions_mm=(3.0,)))
        return picture(scene)

    down = shot(Falls.DOWN, 80, 400, 0.0, 200.0)
    assert down.min() < 60
    np.testing.assert_array_equal(shot(Falls.UP, 80, 400, 399.0, 199.0), down[::-1])
    np.testing.assert_array_equal(shot(Falls.RIGHT, 400, 80, 0.0, 200.0), down.T)
    np.testing.assert_array_equal(shot(Falls.LEFT, 400, 80, 399.0, 199.0), down[::-1].T)


def test_touching_parts_leave_no_seam() -> None:
    """Two boxes end to end are as dark at the joint as elsewhere, blurred or not."""
    for exposure_us in (0.0, 1000.0):
        scene = belt_scene(
            4000.0,
            release=Times(times_ms=(50.0 + 1.07, 50.0 + 11.07)),
            camera=camera(exposure_us=exposure_us),
        )
        column = contrast(scene)[:, 40]
        assert column[170:185] == pytest.approx(np.ones(15), abs=1e-4)
        assert column.sum() == pytest.approx(80.0, rel=1e-4)


def test_overlapping_parts_hide_one_another() -> None:
    scene = belt_scene(4000.0, release=Times(times_ms=(50.0, 52.0)))
    column = contrast(scene)[:, 40]
    assert column.max() == pytest.approx(1.0, abs=1e-5)
    assert column.sum() == pytest.approx(48.0, rel=1e-3)


def test_lip_hides_what_has_not_left() -> None:
    view = TALL.model_copy(update={"lip_px": 180.0})
    scene = belt_scene(4000.0, view=view, release=Times(times_ms=(97.5,)))
    pour = simulate(scene)
    rows = np.flatnonzero(contrast(scene)[:, 40] > 0.4)
    assert (rows[0], rows[-1]) == (180, 210)
    assert [s.whole for s in pour.truth.frames[-1].seen] == [False]


def test_part_held_at_the_lip_shows_only_once_released() -> None:
    view = TALL.model_copy(update={"lip_px": 100.0})
    scene = belt_scene(
        4000.0, view=view, motion=FreeFall(), release=Times(times_ms=(50.0,)), duration_s=0.075
    )
    shown = [(p < 100).any() for _, p in simulate(scene).noiseless()]
    assert shown == [False] * 5 + [True] * 3
    seen = [bool(f.seen) for f in simulate(scene).truth.frames]
    assert seen == shown


def test_lens_blur_keeps_the_contrast() -> None:
    sharp = contrast(belt_scene(4000.0))
    soft = contrast(belt_scene(4000.0, camera=camera(blur_px=2.0)))
    assert soft.sum() == pytest.approx(sharp.sum(), rel=1e-4)
    assert np.abs(np.diff(soft, axis=0)).max() < 0.5 * np.abs(np.diff(sharp, axis=0)).max()


def test_lens_blur_reaches_into_the_view() -> None:
    """A part just above the picture darkens its first row, as it does where there is more view."""
    low = belt_scene(
        4000.0,
        release=Times(times_ms=(50.0,)),
        camera=camera(blur_px=2.0),
        view=TALL.model_copy(update={"lip_px": -221.0}),
    )
    high = low.model_copy(update={"view": TALL.model_copy(update={"lip_px": -121.0})})
    np.testing.assert_allclose(picture(low)[:100], picture(high)[100:200], atol=1e-3)
    assert picture(low)[0, 40] < BACKGROUND - 10


def test_glint_is_a_band_across_the_middle() -> None:
    plain = contrast(belt_scene(4000.0))
    glint = contrast(belt_scene(4000.0, part=box(40.0, 20.0, glint_px=4.0)))
    gone = plain - glint
    assert gone.sum() == pytest.approx(4 * 20, rel=1e-3)
    assert np.flatnonzero(gone[:, 40] > 0.3).tolist() == [198, 199, 200, 201, 202]


def test_part_at_rest() -> None:
    resting = Resting(along_px=60.0, across_px=30.0, until_s=0.035)
    pour = simulate(
        belt_scene(
            4000.0, surroundings=Surroundings(resting=(resting,)), release=Times(times_ms=())
        )
    )
    shown = [p.min() < 100 for _, p in pour.noiseless()]
    assert shown == [True] * 4 + [False] * 7
    first = next(iter(pour.noiseless()))[1]
    rows, columns = np.nonzero(first < 100)
    assert (rows.mean(), columns.mean()) == pytest.approx((60.0, 30.0))
    assert not any(frame.seen for frame in pour.truth.frames)


def test_flicker_and_steps_of_the_light() -> None:
    light = Light(flicker_percent=10.0, flicker_hz=100.0, steps=(Step(at_s=0.054, percent=20.0),))
    scene = belt_scene(
        4000.0,
        release=Times(times_ms=()),
        light=light,
        camera=camera(fps=400.0),
        duration_s=0.1,
    )
    levels = np.array([p.mean() for _, p in simulate(scene).noiseless()])
    expected = BACKGROUND * (1 + 0.1 * np.sin(2 * np.pi * np.arange(41) / 4))
    expected[22:] *= 1.2
    assert levels == pytest.approx(expected, rel=1e-5)


def test_exposure_of_a_whole_period_cures_flicker() -> None:
    """An exposure of one period of the light: 10 ms at 100 Hz. Common practice, no source."""
    scene = belt_scene(
        4000.0,
        release=Times(times_ms=()),
        light=Light(flicker_percent=50.0),
        camera=camera(fps=30.0, exposure_us=10_000.0),
    )
    assert picture(scene, 1) == pytest.approx(np.full((400, 80), BACKGROUND), rel=1e-5)


def test_flicker_bands_on_a_rolling_shutter() -> None:
    """Bands 315.0 rows apart for 100 Hz light at 31.749 us a row, calculated."""
    scene = belt_scene(
        4000.0,
        release=Times(times_ms=()),
        light=Light(flicker_percent=10.0),
        camera=camera(fps=40.0, readout="down", line_time_us=31.749),
        view=TALL.model_copy(update={"height_px": 700}),
    )
    rows = picture(scene)[:, 0]
    peaks = [i for i in range(1, 699) if rows[i - 1] < rows[i] >= rows[i + 1]]
    assert np.diff(peaks) == pytest.approx([315.0], abs=1.0)


def test_noise_has_its_stated_sigma_and_no_memory() -> None:
    """Rounding to whole levels adds 1/12 to the variance."""
    scene = belt_scene(4000.0, release=Times(times_ms=()), camera=camera(noise=2.0))
    stack = np.array([p for _, p in simulate(scene).frames()], dtype=np.float64) - BACKGROUND
    assert stack.mean() == pytest.approx(0.0, abs=0.02)
    assert stack.var() == pytest.approx(4 + 1 / 12, rel=0.01)
    for other in (stack[1], np.roll(stack[0], 1, axis=0), np.roll(stack[0], 1, axis=1)):
        assert np.corrcoef(stack[0].ravel(), other.ravel())[0, 1] == pytest.approx(0, abs=0.03)


@pytest.mark.parametrize("marks", [Marks.START, Marks.MIDDLE, Marks.END])
def test_time_marks_its_moment_of_the_exposure(marks: Marks) -> None:
    """At 4000 px/s half of a 5 ms exposure is 10 px."""
    cover = contrast(belt_scene(4000.0, camera=camera(exposure_us=5000.0, marks=marks)))
    centre = (cover.sum(axis=1) * np.arange(400)).sum() / cover.sum()
    shift = {Marks.START: 10.0, Marks.MIDDLE: 0.0, Marks.END: -10.0}[marks]
    assert centre == pytest.approx(200.0 + shift, abs=0.01)


def test_pixels_depend_on_the_scene_alone() -> None:
    def pixels(seed: int) -> list[bytes]:
        scene = demo_scene(seed).model_copy(update={"lead_in_s": 0.0, "duration_s": 0.3})
        return [p.tobytes() for _, p in simulate(scene).frames()]

    first, other = pixels(3), pixels(4)
    assert first == pixels(3)
    assert not set(first) & set(other)
    assert len(set(first)) == len(first)
