"""The default detector, over whole films."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import FRAME_NS, box, counts, empty, film, pixels, ring, states, watched, with_part
from pydantic import ValidationError
from unit.vision.lamps import board, phases, swinging

from viscount.codes import Code
from viscount.errors import DetectorFailedError
from viscount.seams import Detector, View
from viscount.values import Frame, Level, Seeing, Sighting
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

SHAPE = (160, 120)
Picture = NDArray[np.float64]


def detector(**options: float) -> DifferenceDetector:
    return DifferenceDetector(DifferenceOptions(**options), View())


def part(y: float, grey: float = 40.0, x: float = 60.0) -> Picture:
    return with_part(empty(SHAPE), box(SHAPE, x, y), grey)


def falling(start: int, length: int, *, step: float = 20.0, grey: float = 40.0) -> list[Picture]:
    """Return scenes of which those from `start` on show one part after the other."""
    return [
        empty(SHAPE) if k < start else part((k - start) * step % 200 - 20, grey)
        for k in range(length)
    ]


def codes(sightings: list[Sighting]) -> list[tuple[int, Code, Level]]:
    return [(s.index, notice.code, notice.level) for s in sightings for notice in s.notices]


def test_keeps_the_interface() -> None:
    assert isinstance(detector(), Detector)


def test_parts_are_found_where_they_are() -> None:
    scenes = falling(60, 100)
    sightings = watched(detector(), film(scenes), primed=60)
    assert set(counts(sightings[:60])) == {0}
    assert set(states(sightings)) == {Seeing.SEEING}
    whole = [s for s in sightings[60:] if s.blobs and not s.blobs[0].cut_by_edge]
    assert len(whole) >= 20
    for sighting in whole:
        (blob,) = sighting.blobs
        y = (sighting.index - 60) * 20.0 % 200 - 20
        assert abs(blob.x_px - 60) < 5 * blob.sigma_x_px
        assert abs(blob.y_px - y) < 5 * blob.sigma_y_px
        assert sighting.t_ns == sighting.index * FRAME_NS


def test_faint_parts_show_as_far_as_it_says() -> None:
    """The published contrast separates what is seen from what is not."""
    sightings = watched(detector(), film(falling(60, 90)), primed=60)
    least = sightings[-1].detectable_contrast
    assert least is not None
    assert 8 <= least <= 12
    for contrast, seen in ((least + 3, True), (least / 3, False)):
        sightings = watched(detector(), film(falling(60, 90, grey=100 - contrast)), primed=60)
        whole = [s for s in sightings[60:] if 20 < (s.index - 60) * 20.0 % 200 - 20 < 140]
        assert set(counts(whole)) == {1 if seen else 0}


def test_least_contrast_is_an_option() -> None:
    scenes = falling(60, 70, grey=60)
    sightings = watched(detector(least_contrast=50), film(scenes), primed=60)
    assert not any(counts(sightings))
    assert sightings[-1].detectable_contrast == 50


def test_options_are_strict() -> None:
    for wrong in ({"threshold": 3}, {"threshold_sigma": 0.1}, {"min_area_px": 0}):
        with pytest.raises(ValidationError):
            DifferenceOptions(**wrong)


def test_without_priming_it_warms_up_first() -> None:
    frames = film([empty(SHAPE)] * 40 + falling(0, 40))
    sightings = watched(detector(), frames)
    warm = states(sightings).index(Seeing.SEEING)
    assert set(states(sightings[:warm])) == {Seeing.WARMING_UP}
    assert set(states(sightings[warm:])) == {Seeing.SEEING}
    assert warm <= 40
    assert not any(counts(sightings[:warm]))
    assert sightings[0].detectable_contrast is None
    assert any(counts(sightings[warm:]))


def test_not_learning_it_never_warms_up() -> None:
    dark = detector()
    for frame in film([empty(SHAPE)] * 60):
        assert dark.see(frame, learn=False).state is Seeing.WARMING_UP


@pytest.mark.parametrize("primed", [0, 60])
def test_a_part_in_the_first_frames_leaves_no_ghost(primed: int) -> None:
    scenes = [part(60)] * 5 + [empty(SHAPE)] * 100 + falling(0, 40)
    sightings = watched(detector(), film(scenes), primed=primed)
    assert not any(counts(sightings[5:105]))
    if primed:
        assert counts(sightings[:5]) == [1] * 5
    assert any(counts(sightings[105:]))


def test_a_part_that_stands_still_is_never_absorbed() -> None:
    scenes = [empty(SHAPE)] * 60 + [part(80)] * 600 + [empty(SHAPE)] * 20
    sightings = watched(detector(), film(scenes), primed=60)
    assert set(counts(sightings[60:660])) == {1}
    areas = [s.blobs[0].area_px for s in sightings[60:660]]
    assert min(areas) > 0.97 * max(areas)
    assert set(counts(sightings[660:])) == {0}


def test_drifting_light_in_one_corner_is_followed() -> None:
    """Only part of the picture changes: no single gain explains it, slow learning does."""
    corner = np.zeros(SHAPE)
    corner[100:, 70:] = 1
    scenes = [empty(SHAPE) + 20 * corner * max(0, k - 60) / 1200 for k in range(1260)]
    sightings = watched(detector(), film(scenes, noise=1.0), primed=60)
    assert not any(counts(sightings))
    still = watched(detector(learning_rate=0), film(scenes, noise=1.0), primed=60)
    assert any(counts(still[-100:]))


def test_with_learning_off_the_background_stays() -> None:
    one, other = detector(), detector(learning_rate=0)
    frames = film([empty(SHAPE) + 0.01 * k for k in range(200)] + [part(80)] * 2)
    one.prime(frames[:48])
    other.prime(frames[:48])
    for frame in frames:
        first, second = one.see(frame, learn=False), other.see(frame)
        assert [b.x_px for b in first.blobs] == [b.x_px for b in second.blobs]


@pytest.mark.parametrize("depth", [0.0, 0.02, 0.05, 0.10])
def test_flicker_hides_no_faint_part(depth: float) -> None:
    """Contrast 20 under mains flicker of 100 Hz at 120 fps, present while learning too."""
    light = 1 + depth * np.sin(2 * np.pi * 100 * np.arange(160) / 120)
    scenes = [s * factor for s, factor in zip(falling(100, 160, grey=80), light, strict=True)]
    sightings = watched(detector(), film(scenes), primed=96)
    inside = [s for s in sightings[100:] if 20 < (s.index - 100) * 20.0 % 200 - 20 < 140]
    assert set(counts(inside)) == {1}
    assert not any(counts(sightings[:100]))
    assert codes(sightings) == []
    assert sightings[-1].detectable_contrast < 14


def watched_under(
    lights: Sequence[Picture], *, contrast: float, primed: int = 96
) -> list[Sighting]:
    """Return what is seen of parts that fall, from frame 100 on, past the board."""
    scenes = []
    for k, light in enumerate(lights):
        part_there = box(SHAPE, 60, (k - 100) * 20.0 % 200 - 20)
        scenes.append((board() - contrast * part_there * (k >= 100)) * light)
    return watched(detector(), film(scenes), primed=primed)


def inside(sightings: Sequence[Sighting]) -> list[Sighting]:
    return [s for s in sightings[100:] if 20 < (s.index - 100) * 20.0 % 200 - 20 < 140]


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("cycles", [0.57, 1.3, 4.0])
@pytest.mark.parametrize("fps", [60.0, 90.0])
def test_bands_of_light_hide_no_faint_part(axis: int, cycles: float, fps: float) -> None:
    """Contrast 20 on a blotched board under mains light seen by a rolling shutter."""
    lights = swinging(phases(160, fps=fps), axis=axis, cycles=cycles)
    sightings = watched_under(lights, contrast=20)
    assert set(counts(inside(sightings))) == {1}
    assert not any(counts(sightings[:100]))
    assert codes(sightings) == []
    assert sightings[-1].detectable_contrast < 14
    assert {s.state for s in sightings} == {Seeing.SEEING}


@pytest.mark.parametrize("axis", [0, 1])
def test_centres_under_bands_are_those_under_a_steady_lamp(axis: int) -> None:
    steady = watched_under([np.ones((1, 1))] * 160, contrast=80)
    banded = watched_under(swinging(phases(160), axis=axis), contrast=80)
    for one, other in zip(inside(steady), inside(banded), strict=True):
        (plain,), (under,) = one.blobs, other.blobs
        assert abs(under.x_px - plain.x_px) < 5 * plain.sigma_x_px
        assert abs(under.y_px - plain.y_px) < 5 * plain.sigma_y_px
        assert under.area_px == pytest.approx(plain.area_px, rel=0.03)


def test_bands_that_roll_on_are_followed_to_phases_that_were_never_learned() -> None:
    """While learning the lamp goes through half a period only."""
    at = 0.17 + 0.06 * np.concatenate([np.arange(12) % 9, np.arange(12) % 9, np.arange(146)])
    sightings = watched_under(swinging(at), contrast=20, primed=24)
    assert not any(counts(sightings[:100]))
    assert set(counts(inside(sightings))) == {1}


def test_bands_and_a_lamp_that_fades_hide_nothing() -> None:
    fade = np.linspace(1.2, 0.8, 400)
    lights = [light * f for light, f in zip(swinging(phases(400)), fade, strict=True)]
    sightings = watched_under(lights, contrast=20)
    assert not any(counts(sightings[:100]))
    assert set(counts(inside(sightings))) == {1}
    assert codes(sightings) == []


def test_slow_learning_takes_the_bands_off_first() -> None:
    """A quarter of a period from frame to frame: each strip is renewed at one phase only."""
    one = detector()
    frames = film([board() * light for light in swinging(np.arange(500) / 4)])
    one.prime(frames[:48])
    before = one._watch.background.level.copy()
    for frame in frames:
        one.see(frame)
    rows = np.median(one._watch.background.level / before, axis=1)
    assert np.ptp(rows) < 0.01


def test_a_steady_lamp_costs_no_bands() -> None:
    one = detector()
    one.prime(film([board()] * 60))
    assert one._watch.background.bands is None
    assert isinstance(one._watch.light.brightness, float)


@pytest.mark.parametrize("primed", [24, 60])
def test_a_step_of_light_is_told_once_and_parts_are_seen_after_it(primed: int) -> None:
    light = np.where(np.arange(140) < 30, 1, 1.2)
    scenes = [s * factor for s, factor in zip(falling(100, 140), light, strict=True)]
    sightings = watched(detector(), film(scenes), primed=primed)
    assert codes(sightings) == [(30, Code.LIGHT_CHANGED, Level.INFO)]
    assert [s.index for s in sightings if s.state is Seeing.BLIND] == [30]
    assert counts(sightings[:100]) == [0] * 100
    assert any(counts(sightings[101:]))


def test_light_beyond_what_was_learned_is_learned_anew() -> None:
    light = np.where(np.arange(160) < 80, 1, 2)
    scenes = [s * factor for s, factor in zip(falling(120, 160), light, strict=True)]
    sightings = watched(detector(), film(scenes), primed=60)
    blind = [s.index for s in sightings if s.state is Seeing.BLIND]
    assert blind == list(range(80, 80 + len(blind)))
    assert 12 <= len(blind) <= 30
    assert codes(sightings) == [(blind[-1], Code.LIGHT_CHANGED, Level.INFO)]
    assert not any(counts(s for s in sightings if s.state is Seeing.BLIND))
    inside = [s for s in sightings[120:] if 20 < (s.index - 120) * 20.0 % 200 - 20 < 140]
    assert set(counts(inside)) == {1}


def test_in_the_dark_it_stays_blind_and_sees_again_when_the_light_is_back() -> None:
    light = np.where((np.arange(200) >= 80) & (np.arange(200) < 150), 0.1, 1)
    scenes = [s * factor for s, factor in zip(falling(0, 200), light, strict=True)]
    sightings = watched(detector(), film(scenes), primed=60)
    assert states(sightings) == [Seeing.SEEING] * 80 + [Seeing.BLIND] * 70 + [Seeing.SEEING] * 50
    assert codes(sightings) == []


def test_something_before_the_lens_for_a_moment_changes_nothing() -> None:
    cover = np.full(SHAPE, 20.0)
    scenes = [empty(SHAPE)] * 70 + [cover] * 5 + [part(80)] * 10
    sightings = watched(detector(), film(scenes), primed=60)
    assert states(sightings)[70:75] == [Seeing.BLIND] * 5
    assert counts(sightings[75:]) == [1] * 10
    assert codes(sightings) == []


def test_moments_of_cover_do_not_add_up_to_a_new_background() -> None:
    cover = [np.full(SHAPE, 230.0)] * 20
    scenes = [*[empty(SHAPE)] * 60, *cover, *[empty(SHAPE)] * 3, *cover, *[part(80)] * 3]
    sightings = watched(detector(), film(scenes), primed=60)
    assert codes(sightings) == []
    assert counts(sightings[-3:]) == [1] * 3


def test_gathered_frames_are_copies() -> None:
    """A camera may write every frame into the same buffer."""
    frames = film([empty(SHAPE)] * 40 + [part(80)] * 3)
    one, buffer = detector(), np.zeros(SHAPE, np.uint8)
    found = []
    for frame in frames:
        buffer[:] = frame.pixels
        found.append(one.see(Frame(index=frame.index, t_ns=frame.t_ns, pixels=buffer)))
        buffer[:] = 0
    expected = watched(detector(), frames)
    assert [[b.x_px for b in s.blobs] for s in found] == [
        [b.x_px for b in s.blobs] for s in expected
    ]


def test_a_background_between_two_greys_is_rounded_the_same_way_at_any_brightness() -> None:
    board = np.random.default_rng(2).integers(0, 2, SHAPE)
    seen = []
    for grey in range(100, 104):
        scenes = [empty(SHAPE, grey) + (board + k) % 2 for k in range(49)]
        scenes[-1][60:80, 50:70] -= 3
        frames = film(scenes, noise=0)
        seen.append(counts(watched(detector(learning_rate=0), frames, primed=48))[-1])
    assert len(set(seen)) == 1


def test_a_slow_fade_is_no_event_and_hides_nothing() -> None:
    light = np.clip(1 - 0.5 * (np.arange(600) - 60) / 500, 0.5, 1)
    scenes = [s * factor for s, factor in zip(falling(560, 600), light, strict=True)]
    sightings = watched(detector(), film(scenes), primed=60)
    assert codes(sightings) == []
    assert set(states(sightings)) == {Seeing.SEEING}
    assert not any(counts(sightings[:560]))
    inside = [s for s in sightings[560:] if 20 < (s.index - 560) * 20.0 % 200 - 20 < 140]
    assert set(counts(inside)) == {1}


def mid_stream(k: int) -> Picture:
    scene = empty(SHAPE)
    for n in range(-1, 5):
        scene = with_part(scene, box(SHAPE, 60, (2 * k) % 48 + 48 * n), 40)
    return scene


@pytest.mark.parametrize("primed", [0, 96])
def test_without_an_empty_scene_it_says_so(primed: int) -> None:
    sightings = watched(detector(), film(map(mid_stream, range(96))), primed=primed)
    assert [(code, level) for _, code, level in codes(sightings)] == [
        (Code.NO_BACKGROUND, Level.DOUBT)
    ]


def test_an_empty_lead_in_before_the_stream_leaves_no_doubt() -> None:
    scenes = [empty(SHAPE)] * 20 + [mid_stream(k) for k in range(76)]
    assert codes(watched(detector(), film(scenes), primed=96)) == []


def test_damaged_frames_teach_nothing() -> None:
    rng = np.random.default_rng(4)
    good = film([empty(SHAPE)] * 60)
    bad = [
        Frame(index=60 + k, t_ns=k, pixels=pixels(empty(SHAPE, 30), rng), damaged=True)
        for k in range(100)
    ]
    one = detector()
    one.prime(bad + good)
    assert not any(counts(watched(one, good)))
    assert set(states(watched(detector(), bad))) == {Seeing.WARMING_UP}


def test_another_size_is_refused() -> None:
    one = detector()
    one.prime(film([empty(SHAPE)] * 48))
    with pytest.raises(DetectorFailedError, match="frame 3"):
        one.see(Frame(index=3, t_ns=0, pixels=np.zeros((10, 10), np.uint8)))


def test_a_picture_too_small_for_parts_is_refused() -> None:
    with pytest.raises(DetectorFailedError, match="2"):
        detector().prime(film([empty((40, 2))] * 20))


def test_nothing_to_prime_with_is_no_harm() -> None:
    one = detector()
    one.prime([])
    assert one.see(film([empty(SHAPE)])[0]).state is Seeing.WARMING_UP


def test_washers_and_close_pairs_are_counted_one_by_one() -> None:
    scene = with_part(empty(SHAPE), ring(SHAPE, 40, 40, 20, 8), 40)
    scene = with_part(scene, box(SHAPE, 80, 100, 16, 15), 40)
    scene = with_part(scene, box(SHAPE, 80, 118, 16, 15), 40)
    sightings = watched(detector(), film([empty(SHAPE)] * 60 + [scene] * 20), primed=60)
    assert counts(sightings[60:]) == [3] * 20


def test_speed_of_a_falling_part_is_steady() -> None:
    """Centres of a part that falls by 6.37 px per frame lie on a line within their sigma."""
    scenes = [empty(SHAPE)] * 60 + [part(30 + 6.37 * k) for k in range(16)]
    sightings = watched(detector(), film(scenes), primed=60)[60:]
    steps = [b.blobs[0].y_px - a.blobs[0].y_px for a, b in pairwise(sightings)]
    sigma = sightings[0].blobs[0].sigma_y_px
    assert np.abs(np.array(steps) - 6.37).max() < 5 * np.sqrt(2) * sigma
