import numpy as np
import pytest
from pictures import NOISE, box, empty, pixels, with_part

from viscount.vision.light import Light, flicker, gains_between

SHAPE = (120, 100)
STEADY = np.ones(48)


def light(grey: float = 100.0, gains: np.ndarray = STEADY, noise: float = NOISE) -> Light:
    level = np.full(SHAPE, grey, np.float32)
    return Light(level, np.full(SHAPE, noise, np.float32), gains)


def read(what: Light, scene: np.ndarray, seed: int = 1):
    return what.read(pixels(scene, np.random.default_rng(seed)))


@pytest.mark.parametrize("factor", [0.7, 0.9, 0.97, 1.03, 1.1, 1.4])
@pytest.mark.parametrize("parts", [0, 8])
def test_gain_is_found_beside_parts(factor: float, parts: int) -> None:
    scene = empty(SHAPE)
    for k in range(parts):
        scene = with_part(scene, box(SHAPE, 12 + 25 * (k % 4), 30 + 60 * (k // 4)), 40)
    what = light()
    reading = read(what, scene * factor)
    assert reading.explained
    assert abs(what.gain - factor) < 0.006


def test_noise_alone_changes_nothing() -> None:
    what = light()
    for seed in range(50):
        assert read(what, empty(SHAPE), seed).explained
        assert what.gain == 1


def test_a_view_full_of_parts_is_no_new_light() -> None:
    scene = with_part(empty(SHAPE), box(SHAPE, 30, 60, width=62, length=200), 20)
    for flicker_now in (1.0, 1.03):
        what = light()
        assert read(what, scene * flicker_now).explained
        assert what.gain == 1


@pytest.mark.parametrize("factor", [0.1, 0.5, 2.0])
def test_a_change_beyond_what_was_learned_is_not_explained(factor: float) -> None:
    what = light()
    assert not read(what, empty(SHAPE) * factor).explained
    assert what.gain == 1


def test_uneven_change_is_not_explained() -> None:
    scene = empty(SHAPE) * np.linspace(0.4, 1.6, SHAPE[1])
    assert not read(light(), scene).explained


def test_a_dark_scene_has_no_ratio_but_is_known() -> None:
    what = light(grey=4.0)
    assert read(what, empty(SHAPE, 4.0)).explained
    assert read(what, empty(SHAPE, 5.5)).explained
    assert what.gain == 1
    assert not read(what, empty(SHAPE, 60.0)).explained


def test_a_step_jumps_once_and_flicker_never() -> None:
    what = light()
    levels = [1.0] * 30 + [1.2] * 60
    jumps = [read(what, empty(SHAPE) * f, k).jumped for k, f in enumerate(levels)]
    assert jumps.index(True) == 30
    assert sum(jumps) == 1
    wave = 1 + 0.1 * np.sin(2 * np.pi * 100 * np.arange(200) / 120)
    what = light(gains=wave[:48])
    assert not any(read(what, empty(SHAPE) * f, k).jumped for k, f in enumerate(wave))


def test_flicker_that_begins_jumps_once() -> None:
    what = light()
    wave = 1 + 0.1 * np.sin(2 * np.pi * 100 * np.arange(300) / 120)
    wave[:40] = 1
    jumps = [read(what, empty(SHAPE) * f, k).jumped for k, f in enumerate(wave)]
    assert sum(jumps) == 1


def test_slow_light_never_jumps() -> None:
    what = light()
    fade = np.linspace(1, 0.65, 150)
    assert not any(read(what, empty(SHAPE) * f, k).jumped for k, f in enumerate(fade))


def test_glare_over_a_dim_scene_is_no_jump() -> None:
    what = light(grey=17.0)
    greys = [17.0] * 12 + [20.0] * 4 + [17.0] * 12
    assert not any(read(what, empty(SHAPE, g), k).jumped for k, g in enumerate(greys))


def test_flicker_departs_from_the_running_median_and_a_step_does_not() -> None:
    wave = 1 + 0.1 * np.sin(2 * np.pi * 100 * np.arange(48) / 120)
    assert 0.07 < flicker(wave) < 0.2
    assert flicker(np.r_[np.ones(24), np.full(24, 1.2)]) == 0
    assert flicker(np.ones(3)) == 0


def test_darkness_is_told_from_another_scene() -> None:
    what = light()
    assert what.darkened(np.full(SHAPE, 20, np.float32))
    assert not what.darkened(np.full(SHAPE, 60, np.float32))
    assert not light(grey=4).darkened(np.full(SHAPE, 1, np.float32))


def test_the_background_can_take_a_share_of_the_gain() -> None:
    what = light()
    read(what, empty(SHAPE) * 1.3)
    gain = what.gain
    what.renew(np.full(SHAPE, 110, np.float32), 1.1)
    assert what.gain == pytest.approx(gain / 1.1)
    read(what, empty(SHAPE) * 1.3, 2)
    assert what.gain == pytest.approx(1.3 / 1.1, rel=0.005)


def test_dark_pictures_have_no_gains_between_them() -> None:
    rng = np.random.default_rng(1)
    pictures = [pixels(empty(SHAPE, 3) * f, rng, 1) for f in (1, 2, 1, 2)]
    assert (gains_between(pictures) == 1).all()
