"""Pieces of one part, and parts that travel as a pair."""

from dataclasses import replace

import pytest
from steady_tracks import track

from viscount.motion.pieces import joined, rigid_pairs
from viscount.motion.track import Track


def pieces(apart: float = 26.0) -> tuple[Track, Track]:
    """Two regions of 20 px, the upper one so far behind the lower one; upper, then lower."""
    upper, lower = (track(20.0, 400.0, step=30.0) for _ in range(2))
    upper.sights = [replace(sight, y=sight.y - apart) for sight in upper.sights]
    upper.along = replace(upper.along, place=upper.along.place - apart)
    return upper, lower


@pytest.mark.parametrize(("apart", "number"), [(26.0, 1), (40.0, 0)])
def test_close_regions_that_keep_their_distance_are_a_pair(apart: float, number: int) -> None:
    assert len(rigid_pairs(list(pieces(apart)))) == number


def test_the_lower_piece_stands_for_the_part() -> None:
    upper, lower = pieces()
    assert joined([upper, lower], rigid_pairs([upper, lower]), 46.0) == [lower]


def test_a_piece_is_no_part_more_where_the_other_was_counted_before() -> None:
    upper, lower = pieces()
    pairs = rigid_pairs([upper, lower])
    assert joined([upper], pairs, 46.0) == []
    assert joined([lower], pairs, 46.0) == []


def test_two_that_are_longer_than_a_part_are_two() -> None:
    upper, lower = pieces()
    assert joined([upper, lower], rigid_pairs([upper, lower]), 30.0) == [upper, lower]
