"""What the sightings of a part say of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from steady_tracks import track

from viscount.motion.spread import quantile, robust_sd, wide_spread
from viscount.motion.traits import Traits

ASKED = ("", "whole", "way")


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.floats(0.0, 1.0))
def test_quantiles_are_numpys(values: list[float], share: float):
    assert quantile(values, share) == pytest.approx(np.quantile(values, share), abs=1e-6)


def test_spreads_are_the_standard_deviation_of_what_is_normal():
    values = np.random.default_rng(3).normal(7.0, 2.0, 20_000)
    assert robust_sd(values) == pytest.approx(2.0, rel=0.03)
    assert wide_spread(values) == pytest.approx(2.0, rel=0.03)


def test_traits_keep_up_with_a_track_that_grows():
    one = track([60.0, 64.0], 1400.0, sights=2)
    assert (one.traits.length, one.traits.number, one.traits.span) == (62.0, 2, 25.0)
    one.show(replace(one.sights[-1], frame=2, y=50.0, length=90.0, area=2000.0))
    assert (one.traits.length, one.traits.number, one.traits.span) == (64.0, 3, 75.0)
    assert (one.traits.largest, one.traits.area) == (2000.0, 1400.0)
    assert one.traits.way.shape == (3, 3)


def test_traits_are_of_the_sightings_that_a_track_has_now():
    one = track(64.0, 1400.0)
    assert one.traits.largest == 1400.0
    one.sights = [replace(sight, area=700.0) for sight in one.sights]
    assert one.traits.largest == 700.0


def test_what_a_border_cuts_is_among_all_but_not_among_the_whole():
    one = track(64.0, 1400.0)
    one.show(replace(one.sights[-1], frame=9, whole=False, area=300.0))
    traits = one.traits
    assert (traits.way.shape[1], traits.way_at_all.shape[1]) == (6, 7)
    assert (traits.whole_area, traits.least_length) == (1400.0, 64.0)
    assert traits.patchy is False
    assert replace(one, sights=[*one.sights, replace(one.sights[-1], frame=20)]).traits.patchy


@pytest.mark.parametrize(("lengths", "keeps"), [((60.0, 63.5), True), ((60.0, 65.0), False)])
def test_a_length_is_kept_within_three_percent_and_two_pixels(lengths, keeps: bool):
    assert track(lengths, 1400.0).traits.keeps_its_length is keeps


@given(
    st.lists(st.tuples(st.booleans(), st.booleans(), st.sampled_from(ASKED)), min_size=1),
)
def test_what_is_known_of_some_sightings_goes_into_what_is_known_of_more(
    seen: list[tuple[bool, bool, str]],
) -> None:
    one = track(64.0, 1400.0, sights=len(seen))
    every, one.sights = one.sights, []
    for sight, (whole, alone, asked) in zip(every, seen, strict=True):
        one.show(replace(sight, whole=whole, alone=alone))
        fresh = Traits(list(one.sights))
        assert one.traits.number == len(one.sights)
        if asked == "whole":
            assert one.traits.whole == fresh.whole
        elif asked == "way":
            assert one.traits.way.shape == (3, len(fresh.whole))
            assert np.array_equal(one.traits.way, fresh.way)
    assert np.array_equal(one.traits.way, Traits(one.sights).way)
    assert one.whole == Traits(one.sights).whole


def test_sightings_that_are_others_are_looked_at_anew() -> None:
    one = track(64.0, 1400.0, sights=8)
    assert one.traits.way.shape == (3, 8)
    one.sights[5:] = []
    assert one.traits.way.shape == (3, 5)
    one.sights = [replace(sight, y=sight.y + 1.0) for sight in one.sights]
    assert one.traits.way[1].tolist() == [sight.y for sight in one.sights]
