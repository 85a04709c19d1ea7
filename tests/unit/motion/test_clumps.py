"""Regions of several parts, and how many they are: by the pour itself, as taught, as stated."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model, track

from viscount.motion.clumps import (
    LARGEST_SIZE,
    clump_size,
    is_clump,
    likely_size,
    shared_by_two,
)
from viscount.motion.crossing import Crossed, Crossing
from viscount.motion.judging import UNSURE, passages
from viscount.motion.parts import UNSTATED, Usual, standing_out
from viscount.motion.single import Single, Span
from viscount.motion.speed import MotionPrior
from viscount.values import Basis, Direction


def span(usual: float, share: float = 0.02) -> Span:
    return Span(low=usual * (1 - share), usual=usual, high=usual * (1 + share))


def taught(share: float = 0.02) -> MotionPrior:
    single = Single(length=span(64.0, share), area=span(1400.0, share), gyration=span(20.0))
    return MotionPrior(single=single, part_length_px=64.0)


def look(
    prior: MotionPrior = UNSTATED,
    *,
    area: float = 1400.0,
    crossed: int = 9,
    spread: float = 20.0,
    alone: float | None = None,
    length: float | None = None,
) -> Usual:
    return Usual(
        area=area,
        crossed=crossed,
        area_spread=spread,
        model=model(),
        view=480.0,
        prior=prior,
        alone=alone,
        alone_spread=spread,
        length=length,
    )


SINGLE, PAIR, TRIPLE = track(64.0, 1400.0), track(128.0, 2800.0), track(192.0, 4200.0)


def test_by_the_others_of_the_pour():
    assert is_clump(PAIR, look())
    assert not is_clump(SINGLE, look())
    assert not is_clump(PAIR, look(crossed=3))
    assert clump_size(PAIR, look()) is None


def test_a_taught_part_tells_them_where_the_pour_has_no_single():
    pairs_only = look(taught(), area=2800.0, crossed=3)
    assert is_clump(PAIR, pairs_only)
    assert clump_size(PAIR, pairs_only) == 2
    assert not is_clump(PAIR, look(area=2800.0))


@pytest.mark.parametrize(("region", "size"), [(PAIR, 2), (TRIPLE, 3)])
def test_areas_add_up(region, size: int):
    for own in (look(taught()), look(taught(), alone=1410.0)):
        assert clump_size(region, own) == size
        assert clump_size(track(64.0, 1400.0 * size), own) == size  # side by side


@pytest.mark.parametrize(
    "region",
    [
        track(100.0, 2100.0),  # one and a half: parts that cover one another
        track(128.0 * 1.3, 2800.0),  # longer than two
        track(64.0, 1400.0 * 6),  # more than anybody tells
    ],
)
def test_what_fits_no_number_tells_none(region):
    own = look(taught(), alone=1400.0)
    assert is_clump(region, own)
    assert clump_size(region, own) is None


def test_in_other_light_only_the_pours_own_single_parts_tell():
    dim = track(128.0, 2.0 * 1210.0)
    assert clump_size(dim, look(taught(), area=1210.0, alone=1210.0)) == 2
    assert clump_size(dim, look(taught(), area=2420.0, crossed=3)) is None


def test_parts_that_turn_as_they_fall_tell_no_number():
    assert clump_size(PAIR, look(taught(0.3))) is None
    assert clump_size(PAIR, look(taught(), spread=200.0)) is None
    assert clump_size(PAIR, look(taught(), alone=1400.0, spread=200.0)) is None


def test_a_single_part_that_was_taught_so_is_none():
    """Among parts that mostly show their small side, one that shows its large side."""
    wide = look(taught(0.3), area=800.0)
    assert not is_clump(track(64.0, 1700.0), wide)


def test_stated_lengths_add_up():
    stated = MotionPrior(part_length_px=15.0)
    assert clump_size(track(31.0, 480.0), look(stated, area=480.0)) == 2
    assert clump_size(track(16.0, 240.0), look(stated, area=240.0)) is None
    between = look(stated, area=400.0)
    assert is_clump(track(37.0, 400.0), between)
    assert clump_size(track(37.0, 400.0), between) is None


def test_a_part_that_turns_or_is_longer_otherwise_is_no_clump():
    turning = track([20.0, 26.0, 31.0, 34.0, 31.0, 26.0], 480.0)
    assert not is_clump(turning, look(MotionPrior(part_length_px=15.0), area=480.0))
    lengthwise = MotionPrior(part_length_px=28.0, longest_px=72.0)
    assert not is_clump(track(66.0, 1400.0), look(lengthwise))
    smeared = MotionPrior(part_length_px=15.0, exposure_s=4e-3)
    assert not is_clump(track(31.0, 480.0), look(smeared, area=480.0))


def test_two_that_come_apart_are_longer_than_any_one_of_a_pour_of_all_sizes():
    """Washers that turn show edges or faces; two of them are longer than either, and large."""
    washers = look(area=350.0, spread=110.0, length=43.0)
    apart = track([60.0, 62.0, 64.0, 66.0, 69.0, 72.0], 850.0)
    assert is_clump(apart, washers)
    assert not is_clump(track([40.0, 41.0, 42.0, 43.0, 44.0, 45.0], 850.0), washers)
    # As long, but no more of it: one that lies along the fall where the others lie across.
    assert not is_clump(track([60.0, 62.0, 64.0, 66.0, 69.0, 72.0], 360.0), washers)


def test_no_part_is_longer_than_its_longest_side_however_it_turns():
    stated = MotionPrior(part_length_px=36.0, longest_px=36.5)
    turning = look(stated, area=350.0, crossed=2)
    assert is_clump(track([60.0, 62.0, 64.0, 66.0, 69.0, 72.0], 850.0), turning)
    assert clump_size(track([60.0, 62.0, 64.0, 66.0, 69.0, 72.0], 850.0), turning) is None
    assert not is_clump(track([36.0, 38.0, 40.0, 42.0, 44.0, 46.0], 850.0), turning)


def test_a_row_that_closes_up_or_comes_apart_tells_no_number():
    """What is as long as three in the middle of its way may be four."""
    stated = look(MotionPrior(part_length_px=18.0, longest_px=18.5), area=480.0, crossed=1)
    assert clump_size(track(54.0, 480.0), stated) == 3
    assert is_clump(track([58.0, 56.0, 54.0, 54.0, 52.0, 50.0], 480.0), stated)
    assert clump_size(track([58.0, 56.0, 54.0, 54.0, 52.0, 50.0], 480.0), stated) is None


def among(*areas: float) -> Callable[[float], Usual]:
    """What such parts, and one more, look like in a pour whose parts differ much."""

    def with_one_more(area: float) -> Usual:
        least = standing_out(np.array([*areas, area]))
        return replace(look(), area_spread=250.0, outliers=np.array([[-np.inf], [least]]))

    return with_one_more


EVEN = among(1380.0, 1420.0, 1400.0, 1410.0, 1390.0)


@pytest.mark.parametrize(
    ("area", "others", "two"),
    [
        (1750.0, EVEN, True),
        (1580.0, EVEN, False),  # the lens, the light
        (1750.0, among(1380.0, 1420.0, 1400.0), False),  # too few for so little
        (1950.0, among(1380.0, 1420.0, 1400.0), True),
        (1950.0, among(1380.0, 1500.0, 1450.0), False),  # too few that differ so much
        (1950.0, among(1390.0, 1410.0, 1960.0), True),
        (1950.0, among(1390.0, 1940.0, 1960.0), False),  # two kinds, or one half hidden
        (1950.0, among(1100.0, 1180.0, 1280.0, 1380.0, 1500.0), False),  # parts that turn
        (1950.0, among(1250.0, 1300.0, 1350.0, 1400.0, 1500.0), True),  # a little, or grow
        (1750.0, among(1250.0, 1300.0, 1350.0, 1400.0, 1500.0), False),  # by no more than those
        (1950.0, among(400.0, *np.arange(1400.0, 1500.0, 10.0)), True),  # one was half hidden
        (1750.0, among(1390.0, 1400.0, 1410.0, 1400.0, 1740.0, 1750.0, 1760.0), True),
        (1750.0, among(1390.0, 1400.0, 1410.0, 1400.0, *[1750.0] * 6), False),  # two kinds
    ],
)
def test_what_is_larger_than_most_by_more_than_these_differ_is_two(
    area: float, others: Callable[[float], Usual], two: bool
) -> None:
    assert is_clump(track(64.0, area), others(area)) is two


def test_what_was_as_large_as_the_others_before_it_lay_on_one_is_no_two_nor_is_what_turns() -> None:
    one = track(64.0, 1750.0)
    one.sights[0] = replace(one.sights[0], area=1400.0)
    turning = track(64.0, 2100.0)
    turning.sights[0] = replace(turning.sights[0], area=1700.0)
    assert not is_clump(one, EVEN(1750.0))
    assert not is_clump(turning, EVEN(2100.0))
    assert is_clump(track(64.0, 1750.0), EVEN(1750.0))


@pytest.mark.parametrize(("length", "two"), [(64.0, False), (76.0, False), (86.0, True)])
def test_what_shows_more_and_less_is_two_where_it_is_longer_than_the_others_as_well(
    length: float, two: bool
) -> None:
    passing = track(length, 2100.0)
    passing.sights[0] = replace(passing.sights[0], length=64.0, area=1450.0)
    assert is_clump(passing, replace(EVEN(2100.0), length=66.0)) is two
    assert not is_clump(passing, replace(look(), length=66.0))  # none of its area
    assert not is_clump(passing, EVEN(2100.0))  # nothing known of lengths


def test_what_was_never_alone_in_regions_for_two_shares_them() -> None:
    single, pair = track(64.0, 1400.0), track(64.0, 2800.0)
    for one in (single, pair):
        assert not shared_by_two(one, look())
        one.sights = [replace(sight, alone=False) for sight in one.sights]
    assert shared_by_two(pair, look())
    assert not shared_by_two(single, look())


@pytest.mark.parametrize(("line_time_s", "size"), [(0.0, 2), (9e-5, None)])
def test_a_readout_along_the_fall_shows_one_part_longer(
    line_time_s: float, size: int | None
) -> None:
    """At 3,000 px/s 90 us a line stretch 22.6 px to 31: a stated length and a half."""
    stated = MotionPrior(part_length_px=15.0, line_time_along_s=line_time_s)
    assert clump_size(track(31.0, 480.0), look(stated, area=480.0)) == size
    assert is_clump(track(31.0, 480.0), look(stated, area=480.0)) is (size is not None)


@pytest.mark.parametrize(("area", "size"), [(540.0, 4), (2160.0, 4), (1050.0, None)])
def test_two_that_lie_across_each_other_are_not_four_in_a_row(
    area: float, size: int | None
) -> None:
    """Screws of 540 px, 18 px along the fall as they ought to come; the regions are 72 px long."""
    stated = MotionPrior(part_length_px=18.0)
    assert clump_size(track(72.0, area), look(stated, area=540.0)) == size


@pytest.mark.parametrize(("exposure_s", "doubted"), [(0.0, True), (2e-3, False)])
def test_what_is_larger_than_the_stated_sizes_is_several_however_few_there_are(
    exposure_s: float, doubted: bool
) -> None:
    """A part of 29.5 px squared shows 1.1 times 32.5 squared; 6 px more in 2 ms at 3,000 px/s."""
    stated = MotionPrior(part_area_px=29.5**2, exposure_s=exposure_s)
    assert is_clump(track(40.0, 1300.0), look(stated, area=1300.0, crossed=1)) is doubted


@pytest.mark.parametrize(
    ("area", "number"),
    [(1.3, 1), (1.7, 2), (2.04, 2), (2.9, 3), (LARGEST_SIZE + 0.4, LARGEST_SIZE), (9.0, 1)],
)
def test_where_no_size_tells_area_says_what_is_likely(area: float, number: int):
    """Of what is larger than a few parts, a hand, nobody knows what it is."""
    assert likely_size(track(100.0, area * 1400.0), look()) == number


def test_of_taught_parts_what_is_likely_goes_by_one_of_them():
    pairs = look(taught(), area=2800.0)
    assert likely_size(PAIR, pairs) == 2
    # Those of this pour's light stand over the taught one.
    assert likely_size(PAIR, replace(pairs, alone=2700.0)) == 1


def test_a_clump_of_unknown_number_counts_as_what_is_likely_and_is_doubted():
    pair = replace(PAIR, along=replace(PAIR.along, speed=3000.0))
    crossing = Crossing(
        t_s=0.0,
        sigma_s=1e-4,
        direction=Direction.WITH,
        basis=Basis.INTERPOLATED,
        speed=3000.0,
        x=50.0,
        alone=True,
        sure=True,
    )
    (passage,) = passages(Crossed(track=pair, crossings=[crossing]), look(), 0)
    assert (passage.parts, passage.doubt) == (2, pytest.approx(UNSURE, abs=0.01))
