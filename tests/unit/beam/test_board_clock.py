"""The board's clock: wraps and restarts told apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.beam.board_clock import LONGEST_UNTOLD_NS, WRAP_NS, BoardClock
from viscount.values import Edge


def followed(*edges: tuple[int, int | None, int | None]) -> tuple[list[int], list[bool], int]:
    """Return the risen times in ns, and where it restarted, of (device us, seq, boot)."""
    clock, times, restarts = BoardClock(), [], []
    for t_us, seq, boot in edges:
        edge = Edge(device_t_ns=t_us * 1000, blocked=False, seq=seq, boot=boot)
        restarts.append(clock.restarts_at(edge))
        times.append(clock.t_ns)
    return times, restarts, clock.wraps


@given(
    offset_us=st.integers(0, 2**32 - 1),
    steps_us=st.lists(st.integers(0, 2**31), min_size=1, max_size=20),
    told=st.sampled_from([(True, True), (True, False), (False, True)]),
)
def test_a_wrapping_clock_rises_as_time_does(
    offset_us: int, steps_us: list[int], told: tuple[bool, bool]
):
    numbered, booted = told
    true_us = [offset_us]
    for step in steps_us:
        true_us.append(true_us[-1] + step)
    times, restarts, wraps = followed(
        *(
            (t % 2**32, k if numbered else None, 0 if booted else None)
            for k, t in enumerate(true_us)
        )
    )
    assert times == [t * 1000 for t in true_us]
    assert not any(restarts)
    assert wraps == true_us[-1] // 2**32


@pytest.mark.parametrize(("pause_us", "restart"), [(9_999_000, False), (10_001_000, True)])
def test_without_numbers_and_boots_only_a_short_pause_may_hide_a_wrap(pause_us: int, restart: bool):
    assert LONGEST_UNTOLD_NS == 10_000_000_000
    before = 2**32 - 1_000_000
    _, restarts, _ = followed((before, None, None), ((before + pause_us) % 2**32, None, None))
    assert restarts[-1] is restart


@pytest.mark.parametrize(
    "edges",
    [
        ((5_000_000, 43, None), (3_000, 1, None)),  # numbers fall with the clock
        ((5_000_000, 43, None), (6_000_000, 1, None)),  # the clock goes on: numbers fall
        ((5_000_000, 43, 0), (6_000_000, 44, 1)),  # only the boot says so
        ((5_000_000, None, None), (3_000, None, None)),
        ((5_000_000, 43, 0), (4_999_000, 44, 0)),  # what is no wrap
        ((2**32 + 5, 43, 0), (3_000, 44, 0)),  # a clock of more bits does not wrap
        ((2**32 - 10, 43, 0), (3_000, 1, 0)),  # near a wrap, and the numbers fall
    ],
)
def test_restarts(edges: tuple[tuple[int, int | None, int | None], ...]):
    times, restarts, wraps = followed(*edges)
    assert restarts == [False, True]
    assert times[-1] == edges[-1][0] * 1000
    assert wraps == 0


def test_the_stated_end_may_lie_behind_a_wrap():
    clock = BoardClock()
    clock.restarts_at(Edge(device_t_ns=WRAP_NS - 1_000, blocked=False))
    assert clock.at_end(500_000) == WRAP_NS + 500_000
    assert clock.at_end(WRAP_NS - 500) == WRAP_NS - 500
    clock.restarts_at(Edge(device_t_ns=500_000, blocked=True))
    assert clock.at_end(400_000) is None
