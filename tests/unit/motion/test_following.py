"""Which explanation of a pour is the better one."""

import math
from dataclasses import replace

import pytest
from steady_tracks import model, track

from viscount.motion.following import (
    AMBIGUOUS,
    LEAST_SCATTER_PX,
    Followed,
    _held_together,
    _most,
    _well_seen,
)

MODEL = replace(model(), area_px=1400.0)


def followed(shape_px: float, surprise: float, sights: tuple[int, ...] = (6, 6, 6)) -> Followed:
    return Followed(
        frames=[],
        model=replace(MODEL, sigma_shape_px=shape_px),
        tracks=[track(64.0, 1400.0, sights=n) for n in sights],
        surprise=surprise,
        standing=0.0,
        lasting=surprise,
        parts=float(len(sights)),
    )


def test_what_may_scatter_more_surprises_less_and_pays_for_it() -> None:
    tight, loose = followed(0.0, 20.0), followed(2.5, 5.0)
    # Twelve sightings beyond the two that each path takes up.
    wider = math.log(math.hypot(2.5, LEAST_SCATTER_PX) / LEAST_SCATTER_PX)
    assert loose.surprise_beside(tight) == pytest.approx(5.0 + 12 * wider)
    assert tight.surprise_beside(loose) == 20.0


def test_paths_of_two_sightings_say_nothing_of_scatter() -> None:
    assert followed(2.5, 5.0, (2, 2)).surprise_beside(followed(0.0, 0.0)) == 5.0


def test_what_leaves_speeds_open_surprises_less_and_pays_for_it() -> None:
    tight, loose = followed(0.0, 0.0), followed(0.0, 5.0)
    loose = replace(loose, model=replace(loose.model, spread=0.2))
    tight = replace(tight, model=replace(tight.model, spread=0.02))
    assert loose.surprise_beside(tight) == pytest.approx(5.0 + 3 * math.log(10.0))
    assert tight.surprise_beside(loose) == 0.0


def test_what_foresees_nothing_is_no_tighter() -> None:
    """Twice the speed: each sighting is a part of its own, or of two by chance."""
    alone = followed(0.0, 400.0, (1,) * 12 + (2,) * 3)
    loose = followed(2.5, 0.0)
    tight = replace(alone, model=replace(alone.model, spread=0.5 * loose.model.spread))
    assert loose.surprise_beside(tight) == pytest.approx(3 * math.log(2.0))
    assert loose.looser_than(tight.model) > 12 * math.log(10.0)


@pytest.mark.parametrize(("scatter_px", "alike"), [(0.0, False), (2.5, True)])
def test_the_best_pays_for_its_scatter_beside_a_tighter_one(scatter_px: float, alike: bool) -> None:
    best, other = followed(scatter_px, 5.0), followed(0.0, 5.0 + AMBIGUOUS)
    for one in other.tracks:
        one.sights = [replace(sight, blob=1) for sight in one.sights]
    assert other.unlike(best)
    assert (_held_together([best, other]).rival is other) is alike


def test_a_tighter_one_of_the_same_links_speaks_for_the_best() -> None:
    best, tight, other = followed(2.5, 5.0), followed(0.0, 9.0), followed(0.0, 9.0 + AMBIGUOUS)
    for one in other.tracks:
        one.sights = [replace(sight, blob=1) for sight in one.sights]
    assert _held_together([best, tight, other]).rival is None


@pytest.mark.parametrize("scatter_px", [0.0, 1.0, 2.5])
def test_what_is_followed_no_further_can_be_no_rival(scatter_px: float) -> None:
    best = followed(2.5, 5.0)
    other = followed(scatter_px, _most(best, followed(scatter_px, 0.0).model))
    for one in other.tracks:
        one.sights = [replace(sight, blob=1) for sight in one.sights]
    assert other.cost >= best.cost
    assert _held_together([best, other]).rival is None


def test_specks_have_no_part_in_it() -> None:
    tight, loose = followed(0.0, 20.0), followed(2.5, 5.0)
    specks = replace(loose, tracks=[*loose.tracks, *(track(9.0, 20.0) for _ in range(99))])
    assert specks.surprise_beside(tight) == pytest.approx(loose.surprise_beside(tight), abs=0.01)


@pytest.mark.parametrize(
    ("sights", "enough"), [((2, 3, 2), True), ((2, 2, 2), False), ((1, 3, 3), False)]
)
def test_each_part_must_be_seen_twice_and_one_more_often(
    sights: tuple[int, ...], enough: bool
) -> None:
    assert _well_seen(followed(0.0, 0.0, sights)) is enough
