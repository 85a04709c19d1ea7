import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import NOISE, box, empty, pixels, with_part

from viscount.vision.background import MOST_SAMPLES, learn_background, shows_empty_scene
from viscount.vision.noise import threshold_map

SHAPE = (60, 50)


def taken(scenes: list[NDArray[np.float64]], seed: int = 3) -> list[NDArray[np.uint8]]:
    rng = np.random.default_rng(seed)
    return [pixels(scene, rng) for scene in scenes]


def sure(pictures: list[NDArray[np.uint8]]) -> bool:
    background = learn_background(pictures)
    threshold = threshold_map(
        background.level, background.sigma, threshold_sigma=4.5, least_contrast=4
    )
    return shows_empty_scene(pictures, background, threshold)


def test_level_and_noise_of_an_empty_scene() -> None:
    slope = empty(SHAPE) + np.linspace(-20, 20, SHAPE[1])
    background = learn_background(taken([slope] * 48))
    assert np.abs(background.level - slope).max() < 5 * NOISE / np.sqrt(48)
    assert abs((background.level - slope).mean()) < 0.05
    rounded = np.hypot(NOISE, 1 / np.sqrt(12))
    assert abs(background.sigma.mean() / rounded - 1) < 0.05
    assert background.sigma.min() > 0.75 * rounded


def test_noise_differs_from_place_to_place() -> None:
    rng = np.random.default_rng(5)
    spread = np.where(np.arange(SHAPE[1]) < 25, 1.0, 4.0)
    pictures = [np.rint(100 + rng.normal(0, 1, SHAPE) * spread).astype(np.uint8) for _ in range(48)]
    sigma = learn_background(pictures).sigma
    assert abs(np.median(sigma[:, :20]) - 1.04) < 0.1
    assert abs(np.median(sigma[:, 30:]) - 4.01) < 0.4


@pytest.mark.parametrize("grey", [40.0, 75.0, 200.0])
@pytest.mark.parametrize("covered", [0.2, 0.45])
def test_parts_standing_in_some_frames_leave_no_trace(grey: float, covered: float) -> None:
    part = with_part(empty(SHAPE), box(SHAPE, 24.5, 29.5), grey)
    scenes = [part if k < 48 * covered else empty(SHAPE) for k in range(48)]
    background = learn_background(taken(scenes))
    assert np.abs(background.level - 100).max() < 3.5
    assert background.sigma[18:42, 20:30].max() < 3.2


def test_a_pixel_covered_more_than_half_of_the_time_by_changing_greys() -> None:
    """The mode lives where a median would not."""
    rng = np.random.default_rng(7)
    scenes = []
    for k in range(48):
        scene = empty(SHAPE)
        if k % 5 < 3:
            scene = with_part(scene, box(SHAPE, 24.5, 29.5), rng.uniform(20, 80))
        scenes.append(scene)
    background = learn_background(taken(scenes))
    assert np.abs(background.level - 100).max() < 3
    assert np.median([s[30, 25] for s in scenes]) < 85


def test_flicker_is_light_and_not_noise() -> None:
    light = 1 + 0.1 * np.sin(2 * np.pi * 100 * np.arange(48) / 120)
    background = learn_background(taken([empty(SHAPE) * factor for factor in light]))
    assert background.sigma.mean() < 1.15 * NOISE
    assert np.abs(background.gains - light / np.median(light)).max() < 0.01


def test_steady_light_is_left_alone() -> None:
    background = learn_background(taken([empty(SHAPE)] * 48))
    assert (background.gains == 1).all()


def test_noiseless_pictures_are_learned_exactly() -> None:
    scene = np.arange(SHAPE[0] * SHAPE[1]).reshape(SHAPE) % 251
    background = learn_background([scene.astype(np.uint8)] * 20)
    assert (background.level == scene).all()
    assert (background.sigma == 0.5).all()


def test_more_pictures_than_needed_are_thinned_evenly() -> None:
    pictures = taken([empty(SHAPE)] * 200)
    assert len(learn_background(pictures).gains) == MOST_SAMPLES


def test_wide_pictures_are_learned_row_by_row() -> None:
    shape = (3, 40_000)
    background = learn_background(taken([empty(shape)] * 12))
    assert abs(background.level.mean() - 100) < 0.1


def test_an_empty_lead_in_is_beyond_doubt() -> None:
    part = with_part(empty(SHAPE), box(SHAPE, 24.5, 29.5), 40)
    assert sure(taken([empty(SHAPE)] * 24 + [part] * 16))


def test_a_scene_never_seen_empty_is_in_doubt() -> None:
    """Mid-stream: at each pixel a part for two thirds of the time, never none in view."""
    scenes = []
    for k in range(48):
        scene = empty(SHAPE)
        for n in range(-1, 4):
            scene = with_part(scene, box(SHAPE, 25, 7 * k % 48 + 48 * n - 40), 40)
        scenes.append(scene)
    assert not sure(taken(scenes))


def test_a_thin_stream_without_a_lead_in_is_beyond_doubt() -> None:
    scenes = [with_part(empty(SHAPE), box(SHAPE, 25, 7 * k % 90, length=12), 40) for k in range(48)]
    assert sure(taken(scenes))


def test_too_few_pictures_are_in_doubt() -> None:
    assert not sure(taken([empty(SHAPE)] * 8))
    assert sure(taken([empty(SHAPE)] * 12))
