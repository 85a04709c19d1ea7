"""Several offsets of the clocks: told by the pairing, or of no account for the count."""

from dataclasses import replace

import pytest
from benchmarks.pairing.by_hand import SCREW, arrivals_at, pulses_at

from viscount.agreement.clock_fit import ClockFit, fit_clocks
from viscount.agreement.pairing import pair_weighed
from viscount.agreement.result import Result
from viscount.codes import Code
from viscount.counters.ambiguity import (
    rivals,
    same_by_each,
    same_note,
    spread_ns,
    told_by_pairing,
    with_clock,
)
from viscount.values import Level, Status

OFFSET_MS = 2500.0
FIRSTS = [0.0, 60.0, 121.0, 178.0, 240.0, 301.0, 359.0, 420.0, 482.0, 539.0]
PAIRS = sorted([*FIRSTS, *(t + 5.0 for t in FIRSTS)])
"""Two by two, 5 ms apart: each pair is one pulse."""


def fitted() -> ClockFit:
    return fit_clocks(arrivals_at(PAIRS), pulses_at(FIRSTS, 10.33))


def off_ms(fit: ClockFit) -> float:
    (clock,) = fit.clocks
    return 1e-6 * clock.offset_ns(0) - OFFSET_MS


def test_pulses_that_could_begin_with_either_of_two_are_ambiguous() -> None:
    fit = fitted()
    assert fit.ambiguous
    offsets = sorted(1e-6 * clock.offset_ns(0) - OFFSET_MS for clock in rivals(fit))
    assert offsets == pytest.approx([-5.0, 0.0], abs=0.2)
    # The stated offset is uncertain by how far apart they are.
    assert 1e6 < spread_ns(fit) < 5e6


def test_what_the_pulses_hold_tells_which() -> None:
    """As long as two parts, they begin with the first."""

    def weigh(fit: ClockFit) -> float:
        own = pulses_at(FIRSTS, 10.33)
        return pair_weighed(arrivals_at(PAIRS), own, fit.clocks, signature=SCREW)[1]

    told = told_by_pairing(fitted(), weigh)
    assert not told.ambiguous
    assert off_ms(told) == pytest.approx(0.0, abs=0.1)


def test_offsets_that_explain_alike_stay_ambiguous() -> None:
    assert told_by_pairing(fitted(), lambda _: -100.0).ambiguous


def test_a_sure_fit_has_no_rivals() -> None:
    irregular = [0.0, 31.0, 59.0, 114.0, 154.0, 244.0, 277.0, 338.0, 385.0, 423.0]
    fit = fit_clocks(arrivals_at(irregular), pulses_at(irregular), signature=SCREW)
    assert not fit.ambiguous
    assert rivals(fit) == ()
    assert told_by_pairing(fit, lambda _: 0.0) is fit


def test_a_rival_taken_for_sure_is_one() -> None:
    fit = fitted()
    for clock in rivals(fit):
        sure = with_clock(fit, clock)
        assert not sure.ambiguous
        assert sure.clocks == (clock,)


def test_only_the_same_clean_count_by_each_is_no_doubt() -> None:
    clean = Result(count=20, low=20, high=20, status=Status.CLEAN, reasons=())
    assert same_by_each([clean, clean, clean])
    assert not same_by_each([clean])
    assert not same_by_each([clean, replace(clean, count=21)])
    assert not same_by_each([clean, replace(clean, status=Status.DOUBTFUL)])
    note = same_note(fitted())
    assert (note.level, note.code) == (Level.INFO, Code.CLOCKS_AMBIGUOUS)
    assert "2 offsets" in note.text
