"""The mixture detector, and the traps of MOG2 that it closes; each trap is shown first."""

import cv2
import numpy as np
import pytest
from pictures import box, counts, empty, film, states, watched, with_part
from unit.vision.lamps import board, phases, swinging

from viscount.codes import Code
from viscount.seams import Detector, View
from viscount.values import Seeing
from viscount.vision.mixture import MixtureDetector, MixtureOptions

SHAPE = (160, 120)


def detector(**options: float) -> MixtureDetector:
    return MixtureDetector(MixtureOptions(**options), View())


def part(y: float, grey: float = 40.0):
    return with_part(empty(SHAPE), box(SHAPE, 60, y), grey)


def plain_masks(frames, **kwargs):
    subtractor = cv2.createBackgroundSubtractorMOG2()
    return [subtractor.apply(frame.pixels, **kwargs) for frame in frames]


def test_keeps_the_interface() -> None:
    assert isinstance(detector(), Detector)


def test_its_first_mask_is_no_sighting() -> None:
    frames = film([empty(SHAPE)] * 40)
    assert (plain_masks(frames)[0] > 0).all()
    sightings = watched(detector(), frames)
    assert not any(counts(sightings))
    assert sightings[0].state is Seeing.WARMING_UP
    assert sightings[-1].state is Seeing.SEEING


@pytest.mark.parametrize("primed", [0, 60])
def test_a_part_in_the_first_frame_leaves_no_ghost(primed: int) -> None:
    frames = film([part(60)] * 5 + [empty(SHAPE)] * 60)
    ghost = plain_masks(frames, learningRate=0.002)[40][50:70, 55:65]
    assert (ghost > 0).mean() > 0.9
    assert not any(counts(watched(detector(), frames, primed=primed)[5:]))


def test_a_part_like_a_shadow_is_a_part() -> None:
    """MOG2 gives the grey 127 to pixels between 0.5 and 1 times the background."""
    frames = film([empty(SHAPE)] * 60 + [part(80, grey=70)] * 3)
    inside = plain_masks(frames)[60][70:90, 55:65]
    assert (inside == 127).mean() > 0.9
    sightings = watched(detector(), frames, primed=60)
    assert counts(sightings[60:]) == [1] * 3
    assert sightings[60].blobs[0].area_px > 0.95 * 16 * 32


def test_a_part_that_stands_still_is_never_absorbed() -> None:
    frames = film([empty(SHAPE)] * 60 + [part(80)] * 300 + [empty(SHAPE)] * 10)
    assert (plain_masks(frames)[300][70:90, 55:65] == 0).mean() > 0.9
    sightings = watched(detector(), frames, primed=60)
    assert set(counts(sightings[60:360])) == {1}
    assert set(counts(sightings[360:])) == {0}


def test_with_learning_off_nothing_is_learned() -> None:
    one, other = detector(), detector(learning_rate=0)
    frames = film([empty(SHAPE)] * 60 + [empty(SHAPE) + 0.02 * k for k in range(200)] + [part(80)])
    one.prime(frames[:60])
    other.prime(frames[:60])
    for frame in frames:
        first, second = one.see(frame, learn=False), other.see(frame)
        assert [b.area_px for b in first.blobs] == [b.area_px for b in second.blobs]


def test_slow_light_in_one_corner_is_followed() -> None:
    corner = np.zeros(SHAPE)
    corner[100:, 70:] = 1
    scenes = [empty(SHAPE) + 25 * corner * max(0, k - 60) / 900 for k in range(960)]
    assert not any(counts(watched(detector(), film(scenes), primed=60)))
    assert any(counts(watched(detector(learning_rate=0), film(scenes), primed=60)[-50:]))


@pytest.mark.parametrize("depth", [0.0, 0.05, 0.10])
def test_flicker_hides_no_faint_part(depth: float) -> None:
    light = 1 + depth * np.sin(2 * np.pi * 100 * np.arange(130) / 120)
    scenes = [
        (part(20 + 5 * (k - 110), grey=80) if k >= 110 else empty(SHAPE)) * light[k]
        for k in range(130)
    ]
    frames = film(scenes)
    if depth == 0.10:  # learned as variance, it would hide the part
        assert (plain_masks(frames)[120][62:78, 55:65] == 255).mean() < 0.2
    sightings = watched(detector(), frames, primed=96)
    assert counts(sightings) == [0] * 110 + [1] * 20


@pytest.mark.parametrize("axis", [0, 1])
def test_bands_of_light_hide_no_faint_part(axis: int) -> None:
    scenes = [
        (with_part(board(), box(SHAPE, 60, 20 + 5 * (k - 110)), 95) if k >= 110 else board())
        * light
        for k, light in enumerate(swinging(phases(130), axis=axis))
    ]
    sightings = watched(detector(), film(scenes), primed=96)
    assert counts(sightings) == [0] * 110 + [1] * 20


def test_a_step_of_light_is_told_once() -> None:
    scenes = [empty(SHAPE) * (1.2 if k >= 70 else 1) for k in range(100)] + [part(80) * 1.2] * 3
    sightings = watched(detector(), film(scenes), primed=60)
    told = [(s.index, notice.code) for s in sightings for notice in s.notices]
    assert told == [(70, Code.LIGHT_CHANGED)]
    assert states(sightings)[70] is Seeing.BLIND
    assert counts(sightings[100:]) == [1] * 3
