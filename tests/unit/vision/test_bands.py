"""Bands of light in films of a blotched board, with parts falling in front of it."""

import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import NOISE, Picture, box, pixels, with_part
from unit.vision.lamps import SHAPE, board, phases, swinging, switched

from viscount.vision import background as learning
from viscount.vision.background import Background, learn_background
from viscount.vision.bands import Bands, bands_between

FRAMES = 48


def parted(k: int, *, grey: float = 40.0) -> Picture:
    """Return the board with two parts in front of it, k frames after the first came in."""
    scene = board()
    for n in range(2):
        scene = with_part(scene, box(SHAPE, 60, (11 * k + 90 * n) % 200 - 20), grey)
    return scene


def taken(scenes: list[Picture], noise: float = NOISE, seed: int = 3) -> list[NDArray[np.uint8]]:
    rng = np.random.default_rng(seed)
    return [pixels(scene, rng, noise) for scene in scenes]


def under(lights: list[Picture]) -> list[Picture]:
    return [parted(k) * light for k, light in enumerate(lights)]


def worst(bands: Bands, lights: list[Picture]) -> float:
    """Return how far the gains are from the lights, which are told against their mean light."""
    mean = np.mean(lights, axis=0)
    given = [light / mean for light in lights]
    away = [
        np.abs(bands.gain(seen) - truth).max()
        for seen, truth in zip(bands.seen, given, strict=True)
    ]
    return float(max(away))


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("cycles", [0.3, 0.57, 1.0, 3.2])
@pytest.mark.parametrize("fps", [60.0, 90.0])
def test_the_gain_of_each_line_is_found_behind_parts(axis: int, cycles: float, fps: float) -> None:
    lights = swinging(phases(FRAMES, fps=fps), axis=axis, cycles=cycles)
    bands = bands_between(taken(under(lights)))
    assert bands is not None
    assert bands.axis == axis
    assert len(bands.modes) == 3
    assert worst(bands, lights) < 0.005


def test_light_that_flickers_and_fades_as_a_whole_too_is_one_of_the_modes() -> None:
    lights = swinging(phases(FRAMES))
    fading = [light * fade for light, fade in zip(lights, np.linspace(1, 0.8, FRAMES), strict=True)]
    bands = bands_between(taken(under(fading)))
    assert bands is not None
    assert worst(bands, fading) < 0.005


def test_two_phases_in_turn_make_bands_of_one_pattern() -> None:
    lights = swinging(phases(FRAMES, fps=240.0, hz=120.0))
    bands = bands_between(taken(under(lights)))
    assert bands is not None
    assert worst(bands, lights) < 0.005


@pytest.mark.parametrize("duty", [0.4, 0.5])
def test_a_lamp_that_is_switched_has_harmonics(duty: float) -> None:
    lights = switched(phases(FRAMES, fps=120.0, hz=313.0), duty=duty, cycles=3.2)
    bands = bands_between(taken(under(lights)))
    assert bands is not None
    assert len(bands.modes) > 3
    left = np.std(
        [b.gain(s) - t for b, s, t in zip([bands] * FRAMES, bands.seen, lights, strict=True)]
    )
    assert left < 0.45 * np.std(lights)


def noisy(scene: Picture) -> list[Picture]:
    return [scene] * FRAMES


def lane(k: int) -> Picture:
    """Return the board with a stream of parts that darkens most of some columns, now and then."""
    scene = board()
    for n in range(5 if k % 16 < 9 else 0):
        scene = with_part(scene, box(SHAPE, 60, (13 * k + 36 * n) % 180 - 10), 40)
    return scene


def shaken(k: int) -> Picture:
    """Return the board before a camera that shakes along both sides."""
    down, across = np.rint(2 * np.sin([1.9 * k, 1.3 * k])).astype(int)
    return np.roll(board(), (down, across), axis=(0, 1))


@pytest.mark.parametrize(
    "scenes",
    [
        pytest.param(noisy(board()), id="steady"),
        pytest.param(under([np.ones((1, 1))] * FRAMES), id="steady behind parts"),
        pytest.param([lane(k) for k in range(FRAMES)], id="a lane full of parts"),
        pytest.param([shaken(k) for k in range(FRAMES)], id="shaken"),
        pytest.param(
            under([np.full((1, 1), 1 + 0.1 * np.sin(2.6 * k)) for k in range(FRAMES)]),
            id="flicker of the whole",
        ),
        pytest.param(under([np.full((1, 1), 1 - 0.004 * k) for k in range(FRAMES)]), id="fade"),
        pytest.param(under(swinging([0.3] * FRAMES)), id="bands that stand"),
        pytest.param(under(swinging(np.arange(FRAMES) / 40)), id="a shadow that passes"),
        pytest.param(under(swinging(phases(FRAMES), depth=0.002)), id="hardly any"),
        pytest.param(noisy(np.full(SHAPE, 5.0)), id="dark"),
        pytest.param(noisy(np.full(SHAPE, 254.0)), id="full"),
    ],
)
def test_there_are_no_bands(scenes: list[Picture]) -> None:
    assert bands_between(taken(scenes)) is None


@pytest.mark.parametrize("shape", [(8, 8), (3, 4000), (400, 6)])
def test_small_pictures_have_none(shape: tuple[int, int]) -> None:
    lights = swinging(phases(FRAMES), shape=shape, axis=int(shape[1] > shape[0]))
    bands = bands_between(taken([np.full(shape, 100.0) * light for light in lights]))
    assert bands is None or worst(bands, lights) < 0.03


def test_few_pictures_have_none() -> None:
    assert bands_between(taken(under(swinging(phases(11))))) is None


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("noise", [1.0, 3.0])
def test_noise_and_level_are_those_of_a_steady_lamp(
    axis: int, noise: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    lights = swinging(phases(FRAMES), axis=axis)
    pictures = taken(under(lights), noise)
    honest = learn_background(pictures)
    rounding = 1 / 12
    assert np.median(honest.sigma) == pytest.approx(np.sqrt(noise**2 + rounding), rel=0.1)
    off = honest.level - board() * np.mean(lights, axis=0)
    assert np.abs(np.median(off, axis=1 - axis)).max() < 0.25 * noise + 0.2
    assert off.std() < 0.35 * noise + 0.1
    monkeypatch.setattr(learning, "bands_between", lambda pictures: None)
    fooled = learn_background(pictures)
    assert np.median(fooled.sigma) > 1.5 * np.median(honest.sigma)


def test_steady_light_is_learned_as_if_there_were_no_bands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pictures = taken(under([np.ones((1, 1))] * FRAMES))
    one = learn_background(pictures)
    monkeypatch.setattr(learning, "bands_between", lambda pictures: None)
    other = learn_background(pictures)
    assert one.bands is None
    assert (one.level == other.level).all()
    assert (one.sigma == other.sigma).all()
    assert (one.gains == other.gains).all()


def test_an_empty_lead_in_under_bands_is_one_group() -> None:
    """Nine phases in turn; then a stream behind which the board never shows."""
    lights = swinging(phases(FRAMES, fps=90.0))
    scenes = []
    for k, light in enumerate(lights):
        crowd = with_part(board(), box(SHAPE, 60, 80, width=30, length=170), 40 + k % 3)
        crowd = with_part(crowd, box(SHAPE, 60, 11 * k % 160, width=30, length=50), 60)
        scenes.append((board() if k < 20 else crowd) * light)
    pictures = taken(scenes)
    assert np.abs(strip(learn_background(pictures), lights)).max() > 40
    assert np.abs(strip(learn_background(pictures, alike_only=True), lights)).max() < 4


def strip(background: Background, lights: list[Picture]) -> NDArray[np.float64]:
    """Return how far the level is off in the middle of the picture."""
    assert background.bands is not None
    return (background.level - board() * np.mean(lights, axis=0))[:, 50:70]
