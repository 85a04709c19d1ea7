"""The light of single frames under bands that are known."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import NOISE, Picture, box, empty, pixels, with_part
from unit.vision.lamps import SHAPE, board, phases, swinging

from viscount.vision.bandfit import BandFit
from viscount.vision.bands import Bands, bands_between
from viscount.vision.light import Light

STEADY = 1 + 0.02 * np.sin(np.arange(48))


def learned(axis: int) -> Bands:
    rng = np.random.default_rng(3)
    bands = bands_between([pixels(board() * lamp, rng) for lamp in swinging(phases(48), axis=axis)])
    assert bands is not None
    return bands


BANDS = [learned(0), learned(1)]


def light(axis: int) -> Light:
    level = (board() * np.mean(swinging(phases(48), axis=axis), axis=0)).astype(np.float32)
    sigma = np.full(SHAPE, NOISE, np.float32)
    return Light(level, sigma, BANDS[axis].seen[:, 0], BANDS[axis])


def off(what: Light, axis: int, truth: Picture) -> float:
    """Return how far, at worst, the brightness is from the true one."""
    mean = np.mean(swinging(phases(48), axis=axis), axis=0)
    return float(np.abs(what.brightness - truth / mean).max())


def taken(scene: Picture, seed: int = 1) -> NDArray[np.uint8]:
    return pixels(scene, np.random.default_rng(seed))


def crowd(scene: Picture, rows: Sequence[int], columns: Sequence[int], grey: float) -> Picture:
    for y in rows:
        for x in columns:
            scene = with_part(scene, box(SHAPE, x, y), grey)
    return scene


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("phase", [0.17, 0.4, 0.65, 0.9])
def test_any_phase_is_told_whether_it_was_learned_or_not(axis: int, phase: float) -> None:
    (truth,) = swinging([phase], axis=axis)
    what = light(axis)
    assert what.read(taken(board() * truth)).explained
    assert off(what, axis, truth) < 0.008


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("grey", [40, 200])
def test_many_parts_are_no_new_light(axis: int, grey: float) -> None:
    """Two parts in five; whole lanes of columns show hardly anything else."""
    scene = crowd(board(), range(5, 160, 36), (16, 50, 90), grey)
    for k, truth in enumerate(swinging(phases(6), axis=axis)):
        what = light(axis)
        assert what.read(taken(scene * truth, k)).explained
        assert off(what, axis, truth) < 0.01


@pytest.mark.parametrize("axis", [0, 1])
def test_where_parts_fill_most_of_the_view_the_light_is_one_of_those_that_were_seen(
    axis: int,
) -> None:
    scene = with_part(board(), box(SHAPE, 40, 60, width=84, length=120), 60)
    assert (np.abs(scene - board()) > 8).mean() > 0.5
    for k, truth in enumerate(swinging(phases(48)[12:18], axis=axis)):
        what = light(axis)
        assert what.read(taken(scene * truth, k)).explained
        assert off(what, axis, truth) < 0.02


def test_of_the_lights_that_were_seen_the_one_that_shows_most_is_recalled() -> None:
    lights = swinging(phases(48, fps=90.0), depth=0.2)
    rng = np.random.default_rng(3)
    bands = bands_between([pixels(board() * lamp, rng) for lamp in lights])
    assert bands is not None
    level = (board() * np.mean(lights, axis=0)).astype(np.float32)
    fit = BandFit(bands, level, np.full(SHAPE, NOISE, np.float32))
    scene = with_part(board(), box(SHAPE, 40, 60, width=84, length=120), 60)
    for k in range(9, 18):
        found = fit.recall(taken(scene * lights[k], k), 1.0)
        assert found.share > 0.4
        truth = lights[k] / np.mean(lights, axis=0)
        assert np.abs(bands.gain(found.amplitudes) - truth).max() < 0.02


@pytest.mark.parametrize("factor", [0.8, 1.15])
def test_a_step_of_the_lamp_jumps_once(factor: float) -> None:
    what = light(0)
    lights = swinging(phases(90))
    jumps = []
    for k, truth in enumerate(lights):
        reading = what.read(taken(board() * truth * (factor if k >= 40 else 1), k))
        assert reading.explained
        jumps.append(reading.jumped)
    assert [k for k, jumped in enumerate(jumps) if jumped] == [40]


@pytest.mark.parametrize(
    "scene", [empty(SHAPE, 20.0), empty(SHAPE, 240.0), board()[::-1] * np.linspace(0.4, 1.6, 120)]
)
def test_another_scene_is_not_explained(scene: Picture) -> None:
    what = light(0)
    before = what.brightness
    assert not what.read(taken(scene)).explained
    assert (what.brightness == before).all()


def test_bands_much_stronger_than_those_that_were_learned_are_not_explained() -> None:
    (truth,) = swinging([0.4], depth=0.3)
    assert not light(0).read(taken(board() * truth)).explained


def test_what_the_background_takes_over_is_taken_off_the_light() -> None:
    what = light(0)
    (truth,) = swinging([0.4])
    what.read(taken(board() * truth))
    before = what.brightness
    level = board() * np.mean(swinging(phases(48)), axis=0)
    what.renew((level * 1.1).astype(np.float32), 1.1)
    assert what.brightness == pytest.approx(before / 1.1)
    what.read(taken(board() * truth))
    assert what.brightness == pytest.approx(before / 1.1, abs=0.004)


def test_one_grey_all_over_and_without_noise() -> None:
    lights = swinging(phases(48))
    bands = bands_between([pixels(empty(SHAPE) * lamp, None) for lamp in lights])
    assert bands is not None
    what = Light(np.full(SHAPE, 100, np.float32), np.full(SHAPE, 0.5, np.float32), STEADY, bands)
    assert what.read(pixels(empty(SHAPE) * lights[3], None)).explained
    assert np.abs(what.brightness - lights[3]).max() < 0.006
