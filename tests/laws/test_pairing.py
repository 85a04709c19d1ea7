"""What must hold for every pair of lists: nothing lost, no clock favoured, live as recorded."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, arrivals_at, pulses_at
from benchmarks.pairing.lists import Lists, lists
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.pairing import Pairer, pair
from viscount.values import Direction, Pairing, Pulse

times = st.lists(st.floats(0, 400), max_size=12).map(sorted)
parts = st.lists(st.integers(0, 2), min_size=12, max_size=12)
doubts = st.lists(st.floats(0, 0.9), min_size=12, max_size=12)
darks = st.lists(st.floats(0.05, 60), min_size=12, max_size=12)


def said(pairings: Sequence[Pairing]) -> list[tuple]:
    return [(p.kind, p.passages, p.pulses, p.parts, round(p.doubt, 6)) for p in pairings]


def fixed_clock(offset_s: float = 2.5) -> ClockLine:
    """A clock that is known beforehand."""
    at = 40.0 * np.arange(12) + np.arange(12) ** 2
    (clock,) = fit_clocks(arrivals_at(at), pulses_at(at, offset_s=offset_s)).clocks
    return clock


@settings(max_examples=150, deadline=None)
@given(times, times, parts, doubts, darks, st.booleans(), st.booleans())
def test_every_event_ends_in_exactly_one_pairing(
    ours: list[float],
    theirs: list[float],
    parts: list[int],
    doubts: list[float],
    darks: list[float],
    known: bool,
    clocked: bool,
):
    arrivals = [
        replace(
            a,
            passage=replace(
                a.passage,
                parts=n,
                doubt=d,
                direction=Direction.AGAINST if k % 5 == 4 else Direction.WITH,
            ),
        )
        for k, (a, n, d) in enumerate(zip(arrivals_at(ours), parts, doubts, strict=False))
    ]
    pulses = pulses_at(theirs, darks[: len(theirs)])
    clocks = (fixed_clock(),) if clocked else fit_clocks(arrivals, pulses).clocks
    found = pair(arrivals, pulses, clocks, signature=SCREW if known else None)
    assert sorted(n for p in found for n in p.passages) == [a.passage.id for a in arrivals]
    assert sorted(n for p in found for n in p.pulses) == [p.id for p in pulses]
    for pairing in found:
        assert pairing.passages or pairing.pulses
        assert 0.0 <= pairing.fewer <= pairing.doubt <= 1.0


@settings(max_examples=12, deadline=None)
@given(
    st.integers(0, 50),
    st.integers(-(10**15), 10**15),
    st.integers(-(10**12), 10**12),
)
def test_both_clocks_may_start_anywhere(seed: int, ours_ns: int, theirs_ns: int):
    made = lists("poisson", 40, seed=seed)
    moved = [
        replace(a, passage=replace(a.passage, t_ns=a.passage.t_ns + ours_ns)) for a in made.arrivals
    ]
    shifted = [
        replace(p, start_ns=p.start_ns + theirs_ns, end_ns=p.end_ns + theirs_ns)
        for p in made.pulses
    ]
    plain = fit_clocks(made.arrivals, made.pulses)
    other = fit_clocks(moved, shifted)
    assert other.ambiguous == plain.ambiguous
    change = other.clocks[0].offset_ns(ours_ns) - plain.clocks[0].offset_ns(0)
    assert change == pytest.approx(theirs_ns - ours_ns, abs=10.0)
    first = pair(made.arrivals, made.pulses, plain.clocks, signature=made.signature)
    second = pair(moved, shifted, other.clocks, signature=made.signature)
    assert [(p.passages, p.pulses, p.parts) for p in first] == [
        (p.passages, p.pulses, p.parts) for p in second
    ]


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 50), st.randoms(use_true_random=False))
def test_the_order_in_which_events_are_handed_over_does_not_matter(seed: int, random):
    made = lists("column", 40, seed=seed)
    arrivals, pulses = list(made.arrivals), list(made.pulses)
    random.shuffle(arrivals)
    random.shuffle(pulses)
    first = fit_clocks(made.arrivals, made.pulses)
    second = fit_clocks(arrivals, pulses)
    assert first.clocks[0].offset_ns(0) == pytest.approx(second.clocks[0].offset_ns(0), abs=1.0)
    plain = pair(made.arrivals, made.pulses, first.clocks, signature=made.signature)
    shuffled = pair(arrivals, pulses, second.clocks, signature=made.signature)
    assert said(plain) == said(shuffled)


def live(
    made: Lists, pairer: Pairer, clock: ClockLine, step_ms: int, delay_ms: int
) -> list[Pairing]:
    """Feed lists as they come in: each event so long after it happened."""
    board = [1e-3 * (p.end_ns - clock.board_origin_ns) for p in made.pulses]
    ended = 1e3 * clock.captured_us(np.array(board)) + clock.origin_ns
    waiting: list[tuple[float, Arrival | Pulse]] = [(a.due_ns, a) for a in made.arrivals]
    waiting += list(zip(ended.tolist(), made.pulses, strict=True))
    waiting.sort(key=lambda each: each[0])
    found: list[Pairing] = []
    now = waiting[0][0]
    k = 0
    while k < len(waiting):
        now += 1e6 * step_ms
        new = []
        while k < len(waiting) and waiting[k][0] <= now:
            new.append(waiting[k][1])
            k += 1
        arrivals = [each for each in new if isinstance(each, Arrival)]
        pulses = [each for each in new if isinstance(each, Pulse)]
        got = pairer.feed(arrivals, pulses, round(now - 1e6 * delay_ms))
        found += got
    return found + pairer.finish()


@pytest.mark.parametrize("kind", ["poisson", "column", "columns", "regular"])
@pytest.mark.parametrize("step_ms", [7, 130])
def test_live_and_recorded_give_the_same_pairings(kind: str, step_ms: int):
    made = lists(kind, 150, seed=9, missed=0.05)
    clocks = fit_clocks(made.arrivals, made.pulses).clocks
    recorded = pair(made.arrivals, made.pulses, clocks, signature=made.signature)
    # Pulses are known when they end, at most 60 ms after they begin here.
    known = live(made, Pairer(clocks, signature=made.signature), clocks[0], step_ms, 60)
    assert said(known) == said(recorded)
    # Without the clocks they are found and followed on the way.
    unknown = live(made, Pairer(signature=made.signature), clocks[0], step_ms, 60)
    assert [s[:4] for s in said(unknown)] == [s[:4] for s in said(recorded)]


def test_a_dense_stream_is_paired_within_the_lag():
    # So close that no event stands alone: one cluster of four seconds.
    made = lists("regular", 400, seed=2, interval_ms=9.0, clear_ms=0.1, missed=0.02, sigma_ms=0.6)
    clocks = fit_clocks(made.arrivals, made.pulses).clocks
    pairer = Pairer(clocks, signature=made.signature, lag_ns=300_000_000)
    waits: list[float] = []
    feed = pairer.feed

    def timed(arrivals, pulses, until_ns):
        got = feed(arrivals, pulses, until_ns)
        waits.extend(until_ns - (p.t_ns or 0) for p in got)
        return got

    pairer.feed = timed  # type: ignore[method-assign]
    found = live(made, pairer, clocks[0], 20, 60)
    assert sorted(n for p in found for n in p.passages) == sorted(made.parts_of_passage)
    assert sorted(n for p in found for n in p.pulses) == sorted(made.parts_of_pulse)
    assert sum(p.parts for p in found) == 400
    assert len(waits) > 0.5 * len(found)
    assert max(waits) < 0.8e9


@pytest.mark.parametrize("seed", range(4))
def test_more_evidence_never_splits_what_was_final(seed: int):
    made = lists("poisson", 80, seed=seed)
    clocks = fit_clocks(made.arrivals, made.pulses).clocks
    whole = said(pair(made.arrivals, made.pulses, clocks, signature=made.signature))
    pairer = Pairer(clocks, signature=made.signature)
    arrivals = sorted(made.arrivals, key=lambda a: a.due_ns)
    half_ns = arrivals[len(arrivals) // 2].due_ns
    until_board = clocks[0].offset_ns(half_ns) + half_ns
    early = [a for a in arrivals if a.due_ns < half_ns]
    first = [p for p in made.pulses if p.start_ns < until_board + 6e7]
    settled = pairer.feed(early, first, half_ns)
    assert settled
    assert said(settled) == whole[: len(settled)]
