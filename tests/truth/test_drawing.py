"""Drawn pictures against places, sizes and shadows that are worked out without the drawing."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage, stats
from skimage.measure import label, regionprops

from viscount.simulate.geometry import upright
from viscount.simulate.physics import paths as paths_of
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import (
    Bag,
    Ball,
    Belt,
    Blow,
    Box,
    Camera,
    Escapement,
    Feeder,
    Intruder,
    Lanes,
    Nut,
    Part,
    Resting,
    Scene,
    Screw,
    Surroundings,
    Texture,
    Times,
    Turning,
    View,
    Washer,
)
from viscount.values import Falls

BACKGROUND, GREY = 200.0, 50.0
SCREW = Screw(
    overall_length_mm=16.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
)
BOLT = SCREW.model_copy(update={"head": "hexagon"})
BUTTON = SCREW.model_copy(update={"head": "dome", "head_height_mm": 2.2})
NUT = Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0)
WASHER = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)
SHAPES: dict[str, Part] = {
    "screw": SCREW,
    "bolt": BOLT,
    "button": BUTTON,
    "nut": NUT,
    "washer": WASHER,
    "ball": Ball(diameter_mm=5.0),
    "box": Box(along_mm=6.0, across_mm=3.0),
}
TUMBLE = Turning(angle_deg=35.0, tilt_deg=25.0, roll_deg=10.0, spin_deg_s=300.0, tumble_deg_s=800.0)


def camera(**more: object) -> Camera:
    still: dict[str, object] = {"fps": 100.0, "exposure_us": 0.0, "noise": 0.0}
    return Camera.model_validate(still | {"background_grey": BACKGROUND, "part_grey": GREY} | more)


def pour(*parts: Part, **more: object) -> Pour:
    """Parts that are let go together, on a belt at 3200 px/s."""
    fields: dict[str, object] = {
        "parts": parts,
        "release": Times(times_ms=(0.0,) * len(parts)),
        "motion": Belt(speed_mm_s=800.0),
        "view": View(width_px=120, height_px=240, lip_px=-40.0, line_px=120.0),
        "camera": camera(),
        "lead_in_s": 0.0,
        "duration_s": 0.1,
    }
    return simulate(Scene.model_validate(fields | more))


def cover(picture: np.ndarray) -> np.ndarray:
    return np.asarray((BACKGROUND - picture) / (BACKGROUND - GREY), dtype=np.float64)


@pytest.mark.parametrize("falls", list(Falls))
@pytest.mark.parametrize("shape", SHAPES)
def test_centroids_are_where_the_truth_says(shape: str, falls: Falls) -> None:
    """skimage.measure.regionprops, weighted by contrast, for tumbling parts in all directions."""
    turns = TUMBLE if shape != "box" else Turning(angle_deg=35.0, spin_deg_s=300.0)
    tall, lip = (400, 160), -30.0 if falls.sign > 0 else 429.0
    width, height = tall[::-1] if falls.vertical else tall
    made = pour(
        SHAPES[shape],
        release=Escapement(count=3, interval_ms=45.0),
        lanes=Lanes(positions_mm=(-6.0, 3.3)),
        turning=turns,
        view=View(width_px=width, height_px=height, falls=falls, lip_px=lip, line_px=200.0),
        camera=camera(exposure_us=300.0, blur_px=0.7),
        duration_s=0.25,
    )
    compared = 0
    for (_, picture), frame in zip(made.noiseless(), made.truth.frames, strict=True):
        covered = cover(picture)
        found = regionprops(label(covered > 0.01), intensity_image=covered)
        centres = np.array([r.centroid_weighted for r in found]).reshape(-1, 2)
        for seen in frame.seen:
            along = seen.y_px if falls.vertical else seen.x_px
            if 45 < along < 355:
                off = np.hypot(centres[:, 0] - seen.y_px, centres[:, 1] - seen.x_px)
                assert off.min() < 0.1
                compared += 1
    assert compared > 20


def solid(part: Part, count: int = 60_000) -> np.ndarray:
    """Return points of a part's body axes, (3, n), from its centre of mass (uniform density)."""
    rng = np.random.default_rng(5)
    x, y, z = rng.uniform(-1, 1, (3, 20 * count))
    if isinstance(part, Screw):
        length, head = part.overall_length_mm, part.head_height_mm
        wide, thin = part.head_diameter_mm / 2, part.shank_diameter_mm / 2
        x, y, z = x * wide, y * wide, (z + 1) / 2 * length
        inside = np.hypot(x, y) <= np.where(z < head, wide, thin)
        masses = np.array([wide**2 * head, thin**2 * (length - head)])
        z = z - float(masses @ [head / 2, (head + length) / 2] / masses.sum())
    elif isinstance(part, Washer | Nut):
        wide = part.diameter_mm / 2 if isinstance(part, Washer) else part.across_flats_mm / 2
        corner = wide * 2 / math.sqrt(3)
        x, y, z = x * corner, y * corner, z * part.thickness_mm / 2
        ring = np.hypot(x, y) >= part.bore_mm / 2
        if isinstance(part, Washer):
            inside = ring & (np.hypot(x, y) <= wide)
        else:
            # A corner lies on the first axis.
            flats = np.abs(np.stack([y, (y + math.sqrt(3) * x) / 2, (y - math.sqrt(3) * x) / 2]))
            inside = ring & (flats.max(axis=0) <= wide)
    else:
        raise AssertionError(part)
    return np.stack([x, y, z])[:, inside][:, :count]


@pytest.mark.parametrize("tilted", [False, True], ids=["straight", "tilted"])
@pytest.mark.parametrize("shape", ["screw", "nut", "washer"])
def test_a_silhouette_is_the_shadow_of_the_solid(shape: str, tilted: bool) -> None:
    """Points scattered through the solid, turned and projected one by one, fill what is drawn."""
    bent = {"tilt_deg": 12.0, "roll_deg": -7.0} if tilted else {}
    view = View(
        width_px=200, height_px=300, scale_px_per_mm=8.0, lip_px=-60.0, line_px=150.0, **bent
    )
    part = SHAPES[shape]
    made = pour(part, view=view, turning=TUMBLE, motion=Belt(speed_mm_s=300.0), duration_s=0.15)
    motion, up = paths_of(made.scene, 80.0), upright(made.scene)
    points, compared = solid(part), 0
    for time in made.times:
        t = np.array(time.t_ns * 1e-9)
        row = float(up.place(motion.along(0, t)[0], 0.0)[0])
        if not 80 < row < 220:
            continue
        world = motion.rotation(0, t) @ points
        world[0] += motion.along(0, t)[0]
        rows, columns = up.place(world[0], world[1], world[2])
        hit = np.zeros((300, 200), dtype=bool)
        hit[np.rint(rows).astype(int), np.rint(columns).astype(int)] = True
        drawn = cover(made.studio.noiseless(time))
        # No point is seen where nothing is drawn (of a corner that ends in a pixel the share
        # may be 0 though it is covered), and no covered pixel is without one.
        assert ndimage.binary_dilation(drawn > 0.02)[hit].all()
        assert (hit & (drawn < 0.02)).sum() < 0.03 * hit.sum()
        assert hit[drawn > 0.999].mean() > 0.97
        compared += 1
    assert compared >= 4


@pytest.mark.parametrize(("mm_per_px", "px"), [(0.03889, 141.4), (0.03684, 149.3)])
def test_a_head_before_a_known_camera(mm_per_px: float, px: float) -> None:
    """A 5.5 mm head 100 mm from an OV5647 is 141.4 px broad, from an IMX219 149.3 px.

    From pixel pitch and focal length (from memory; the published angles of view agree).
    """
    made = pour(
        Ball(diameter_mm=5.5),
        view=View(
            width_px=240,
            height_px=240,
            scale_px_per_mm=1 / mm_per_px,
            lip_px=-400.0,
            line_px=120.0,
            distance_mm=100.0,
        ),
        motion=Belt(speed_mm_s=519.5 * mm_per_px / 0.1),
        duration_s=0.1,
    )
    area = cover(made.studio.noiseless(made.times[-1])).sum()
    assert 2 * math.sqrt(area / math.pi) == pytest.approx(px, abs=0.1)


def test_nearer_balls_are_larger_as_before_a_pinhole() -> None:
    """size = scale x distance / (distance - depth), plane geometry, of the ball as drawn."""
    sizes = []
    for seed in range(8):
        made = pour(
            Ball(diameter_mm=6.0),
            seed=seed,
            lanes=Lanes(depth_spread_mm=20.0),
            view=View(width_px=240, height_px=240, lip_px=-40.0, line_px=120.0, distance_mm=120.0),
        )
        depth = float(paths_of(made.scene, 80.0).depth(0, np.array(0.05)))
        time = made.times[5]
        (seen,) = made.truth.frames[5].seen
        assert seen.whole
        expected = 24.0 * 120 / (120 - depth)
        area = cover(made.studio.noiseless(time)).sum()
        assert 2 * math.sqrt(area / math.pi) == pytest.approx(expected, rel=2e-3)
        assert made.studio.visible(time)[0].area_px == pytest.approx(area, rel=2e-3)
        sizes.append(expected)
    assert max(sizes) > 1.2 * min(sizes)


def test_what_two_parts_hide_of_each_other_adds_up() -> None:
    """Each pixel of the picture belongs to the part that is seen there, or to neither."""
    greys, told = (40.0, 120.0), set()
    for seed in range(10):
        parts = (
            SCREW.model_copy(update={"grey": greys[0]}),
            WASHER.model_copy(update={"grey": greys[1]}),
        )
        made = pour(
            *parts,
            seed=seed,
            lanes=Lanes(depth_spread_mm=4.0, spread_mm=0.7),
            turning=Turning(angle_deg=30.0, tilt_deg=20.0),
        )
        depth = paths_of(made.scene, 80.0).depth(np.arange(2), np.full(2, 0.05))
        near = int(np.argmax(depth))
        time = made.times[5]
        visible, picture = made.studio.visible(time), made.studio.noiseless(time)
        assert visible[near].share == pytest.approx(1.0, abs=1e-6)
        shown = [visible[k].share * visible[k].area_px for k in (0, 1)]
        light = float((BACKGROUND - picture).sum())
        expected = sum(a * (BACKGROUND - g) for a, g in zip(shown, greys, strict=True))
        assert light == pytest.approx(expected, rel=2e-3)
        hidden = 1 - visible[1 - near].share
        assert hidden > 0.05
        pixels = [int((np.abs(picture - g) < 1e-3).sum()) for g in greys]
        whole = [
            int((np.abs(made.studio.part_alone(time, k) - greys[k]) < 1e-3).sum()) for k in (0, 1)
        ]
        assert pixels[near] == whole[near]
        assert pixels[1 - near] < whole[1 - near]
        told.add(near)
    assert told == {0, 1}


def test_shaking_moves_the_whole_picture_by_the_stated_px() -> None:
    """A quarter of a period after a blow of a px/e the ring is a whole number of px."""
    age, hz, decay = 0.01, 25.0, 0.2
    off = 3
    blow = Blow(at_s=0.04, amplitude_px=off * math.exp(age / decay), hz=hz, decay_s=decay)
    around = Surroundings(
        texture=Texture(contrast=5.0),
        bag=Bag(rim_px=200.0),
        resting=(Resting(along_px=160.0, across_px=20.0, until_s=1.0),),
        intruders=(
            Intruder(kind="hand", from_s=0.0, until_s=0.1, size_px=30.0, along_px=40.0),
            Intruder(kind="insect", from_s=0.0, until_s=0.1, size_px=8.0, along_px=130.0),
        ),
    )
    still, shaken = (
        pour(SCREW, surroundings=around.model_copy(update={"blows": blows}), turning=TUMBLE)
        for blows in ((), (blow,))
    )
    at_rest, moved = (p.studio.noiseless(p.times[5]) for p in (still, shaken))
    np.testing.assert_allclose(moved[off:], at_rest[:-off], atol=0.02)
    assert np.abs(moved - at_rest).max() > 50


@pytest.mark.parametrize("grain", [6.0, 12.0])
def test_texture_statistics(grain: float) -> None:
    """Its values spread as a normal distribution does, alike in both directions.

    A sum of plane waves of one length from all sides goes as the Bessel function J0, which first
    is 0 at 0.383 of the length (scipy.special.jn_zeros); the lengths are 1.5 to 4 grains.
    """
    made = pour(
        surroundings=Surroundings(texture=Texture(contrast=9.0, grain_px=grain)),
        view=View(width_px=600, height_px=600),
        parts=(SCREW,),
    )
    picture = made.studio.noiseless(made.times[0]) - BACKGROUND
    assert picture.std() == pytest.approx(9.0, rel=0.1)
    assert abs(stats.skew(picture, axis=None)) < 0.25
    assert abs(stats.kurtosis(picture, axis=None)) < 0.5
    power = np.abs(np.fft.fft2(picture - picture.mean())) ** 2
    correlation = np.fft.ifft2(power).real / power.mean() / picture.size
    for profile in (correlation[0], correlation[:, 0]):
        first_zero = float(np.argmax(profile / profile[0] < 0))
        assert 0.383 * 1.5 * grain < first_zero < 0.383 * 4 * grain


@pytest.mark.parametrize(
    ("around", "turning"),
    [
        (Surroundings(), Turning(angle_deg=35.0, spin_deg_s=3000.0)),
        (
            Surroundings(feeder=Feeder(hz=80.0, amplitude_px=1.5)),
            Turning(angle_deg=20.0, tilt_deg=45.0, twist_deg_s=3000.0),
        ),
        (Surroundings(feeder=Feeder(hz=80.0, amplitude_px=1.5)), Turning()),
        (Surroundings(blows=(Blow(at_s=0.046, amplitude_px=4.0, hz=90.0),)), Turning()),
        (Surroundings(texture=Texture(speed_px_s=700.0, grain_px=5.0)), Turning()),
        (
            Surroundings(texture=Texture(grain_px=5.0), feeder=Feeder(hz=80.0, amplitude_px=2.0)),
            Turning(),
        ),
    ],
    ids=["spin", "twist", "feeder", "blow", "moving texture", "shaken texture"],
)
def test_a_long_exposure_is_the_mean_of_its_instants(
    around: Surroundings, turning: Turning
) -> None:
    """Light adds up: 8 ms are as good as 400 pictures of no length, one each 20 us."""
    made = pour(
        SCREW.model_copy(update={"shading_grey": 40.0}),
        camera=camera(exposure_us=8000.0),
        motion=Belt(speed_mm_s=30.0),
        release=Times(times_ms=(-1100.0,)),
        turning=turning,
        surroundings=around,
    )
    time = made.times[5]
    instants = [
        made.studio.noiseless(
            replace(
                time, shown_t_ns=time.shown_t_ns - 4_000_000 + 10_000 + 20_000 * k, exposure_s=0
            )
        )
        for k in range(400)
    ]
    expected = np.mean(instants, axis=0, dtype=np.float64)
    drawn = made.studio.noiseless(time)
    assert np.abs(made.studio.noiseless(replace(time, exposure_s=0.0)) - drawn).mean() > 0.2
    # Steps of up to a quarter of a px, of edges of 150 grey, at the ends of a smear.
    assert np.abs(drawn - expected).max() < 8.0
    assert np.abs(drawn - expected).mean() < 0.05


def test_the_lens_blurs_whatever_is_in_the_view() -> None:
    """scipy.ndimage.gaussian_filter of the sharp picture gives the soft one."""
    around = Surroundings(
        bag=Bag(rim_px=200.0),
        resting=(Resting(along_px=170.0, across_px=25.0, until_s=1.0),),
        intruders=(
            Intruder(kind="hand", from_s=0.0, until_s=0.1, size_px=30.0, along_px=40.0),
            Intruder(kind="insect", from_s=0.0, until_s=0.1, size_px=8.0, along_px=140.0),
        ),
    )
    sigma = 1.5
    sharp, soft = (
        pour(SCREW, surroundings=around, camera=camera(blur_px=blur)) for blur in (0.0, sigma)
    )
    time = sharp.times[4]
    expected = ndimage.gaussian_filter(
        sharp.studio.noiseless(time), sigma, mode="nearest", truncate=4.0
    )
    np.testing.assert_allclose(soft.studio.noiseless(time), expected, atol=0.5)


def test_a_ball_is_brightest_towards_the_light() -> None:
    """Above the camera, to the right of it: so the surface file says, and Lambert's law."""
    made = pour(Ball(diameter_mm=16.0, shading_grey=60.0, gloss_grey=60.0))
    time = made.times[5]
    (seen,) = made.truth.frames[5].seen
    picture = made.studio.noiseless(time)
    disc = np.hypot(*(np.indices(picture.shape) - np.array([seen.y_px, seen.x_px])[:, None, None]))
    row, column = np.unravel_index(np.argmax(np.where(disc < 30, picture, 0)), picture.shape)
    assert row < seen.y_px - 3
    assert column > seen.x_px + 3
    assert picture[row, column] == pytest.approx(GREY + 60 + 60 * 0.9, abs=15)
    assert picture[disc < 30].min() < GREY + 20


def test_a_glint_flashes_as_a_bolt_rolls() -> None:
    """A flat throws the light into the camera at one angle only, six times a turn."""
    bolt = BOLT.model_copy(update={"gloss_grey": 150.0})
    made = pour(
        bolt,
        turning=Turning(twist_deg_s=1500.0, angle_deg=-90.0),
        camera=camera(fps=400.0),
        view=View(width_px=120, height_px=400, lip_px=-40.0, line_px=120.0),
        duration_s=0.12,
    )
    bright = []
    for time, frame in zip(made.times, made.truth.frames, strict=True):
        if frame.seen and frame.seen[0].whole:
            bright.append(int((made.studio.noiseless(time) > GREY + 75).sum()))
    assert len(bright) > 20
    # The head is 28 px across and 16 long: a flat of it flashes, and goes out again.
    assert max(bright) - min(bright) > 100
