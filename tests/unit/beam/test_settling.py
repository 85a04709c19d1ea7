"""Spikes: what is taken out, and what is left."""

import pytest

from viscount.beam.settling import Settling

LEAST = 100


def settled(lengths: list[int]) -> tuple[list, Settling]:
    """Feed stretches, light and dark in turn; return (start, end, spikes) and the settling."""
    settling = Settling(LEAST)
    settling.begin(0, blocked=False)
    t, found = 0, []
    for length in lengths[:-1]:
        t += length
        found += settling.change(t)
    done, still = settling.stop()
    found += done
    assert still is None
    return [(d.start_ns, d.end_ns, d.spikes) for d in found], settling


@pytest.mark.parametrize(
    ("lengths", "found", "spikes"),
    [
        ([1000, 500, 1000], [(1000, 1500, 0)], 0),
        ([1000, 100, 1000], [(1000, 1100, 0)], 0),  # just long enough
        ([1000, 99, 1000], [], 1),  # a dark spike
        ([1000, 500, 99, 500, 1000], [(1000, 2099, 1)], 1),  # a light spike
        ([1000, 500, 100, 500, 1000], [(1000, 1500, 0), (1600, 2100, 0)], 0),
        # contacts bounce behind the first touch: start and end are those of the first edge
        ([1000, 20, 30, 500, 1000], [(1000, 1550, 1)], 1),
        ([1000, 500, 20, 30, 1000], [(1000, 1500, 1)], 1),
        ([1000, 20, 30, 10, 40, 500, 15, 25, 1000], [(1000, 1600, 3)], 3),
        # a part that flickers from end to end, and a flicker of the light
        ([1000] + [80, 60] * 9 + [80, 1000], [(1000, 2340, 9)], 9),
        ([1000] + [30, 90] * 9 + [30, 1000], [], 10),
        # a gap that flickers between two parts, and a spike at the very begin
        ([1000, 500] + [80, 60] * 3 + [80, 500, 1000], [(1000, 1500, 0), (2000, 2500, 3)], 3),
        ([50, 20, 1000, 500, 1000], [(1070, 1570, 0)], 1),
    ],
)
def test_stretches(lengths: list[int], found: list, spikes: int):
    assert settled(lengths)[0] == found
    assert settled(lengths)[1].spikes == spikes


def test_chatter_that_could_have_been_a_part_is_counted_apart():
    """Dark for 240 of 1240 us in all: no part, but as long as one would need."""
    assert settled([1000] + [30, 90] * 7 + [30, 1000])[1].unsettled == 1
    assert settled([1000] + [30, 90] * 2 + [30, 1000])[1].unsettled == 0
    assert settled([1000] + [80, 60] * 9 + [80, 1000])[1].unsettled == 0


def test_nothing_is_taken_out_at_width_nought():
    settling = Settling(0)
    settling.begin(0, blocked=False)
    found = [d for t in (10, 11, 12, 12) for d in settling.change(t)]
    found += settling.stop()[0]
    assert [(d.start_ns, d.end_ns) for d in found] == [(10, 11), (12, 12)]
