"""Pours with known truth as two event lists: clocks, pairings, totals, and what is never clean."""

import numpy as np
import pytest
from benchmarks.pairing.judging import judge
from benchmarks.pairing.lists import Lists, lists

from viscount.agreement.clock_fit import ClockFit, fit_clocks
from viscount.agreement.combined import Combined, combined
from viscount.agreement.error_rates import ErrorRates, rates_for
from viscount.agreement.pairing import pair
from viscount.agreement.result import Result, result
from viscount.agreement.watch import Watch
from viscount.values import Pairing, Status

POURS = {
    "a column": {"kind": "column", "count": 60},
    "a column that the beam merges": {"kind": "column", "count": 60, "clear_ms": 2.0},
    "single parts": {"kind": "poisson", "count": 80, "interval_ms": 40.0},
    "a loose pour": {"kind": "poisson", "count": 80, "interval_ms": 12.0},
    "five columns": {"kind": "columns", "count": 300},
    "every 40 ms": {"kind": "regular", "count": 40},
}


def middle(made: Lists) -> tuple[int, float]:
    """The middle of the events, and the true offset there."""
    at_ns = int(np.median([a.due_ns for a in made.arrivals]))
    return at_ns, 1e9 * made.offset_s + at_ns * 1e-6 * made.drift_ppm


def both(made: Lists) -> tuple[ClockFit, list[Pairing], Combined]:
    camera = result([a.passage for a in made.arrivals], (), 0)
    rates = rates_for(camera)
    fit = fit_clocks(made.arrivals, made.pulses, signature=made.signature)
    pairings = pair(made.arrivals, made.pulses, fit.clocks, signature=made.signature, rates=rates)
    alone = len(made.pulses)
    beam = Result(count=alone, low=alone, high=alone, status=Status.CLEAN, reasons=())
    return (
        fit,
        pairings,
        combined(pairings, fit, camera=camera, beam=beam, origin_ns=0, rates=rates),
    )


@pytest.mark.parametrize("name", POURS)
@pytest.mark.parametrize("seed", range(3))
def test_pours_with_misses_merges_and_false_events(name: str, seed: int):
    made = lists(**POURS[name], seed=seed)
    fit, pairings, whole = both(made)
    if fit.ambiguous:
        assert POURS[name]["kind"] == "regular"
        assert whole.result.status is Status.DOUBTFUL
        return
    (clock,) = fit.clocks
    at_ns, true_ns = middle(made)
    assert abs(clock.offset_ns(at_ns) - true_ns) < min(0.2e6, 4.5 * clock.sigma_ns(at_ns))
    assert abs(clock.drift_ppm - made.drift_ppm) < 4.5 * clock.sigma_drift_ppm
    judged = judge(made, pairings)
    assert judged.once
    assert len(judged.wrong) <= 0.01 * judged.pairings
    assert whole.result.low <= made.parts <= whole.result.high
    if whole.result.status is Status.CLEAN:
        assert whole.result.count == made.parts


@pytest.mark.parametrize("sigma_ms", [0.05, 0.2])
def test_ten_minutes_give_the_drift(sigma_ms: float):
    made = lists("poisson", 600, seed=5, interval_ms=1000.0, sigma_ms=sigma_ms)
    (clock,) = fit_clocks(made.arrivals, made.pulses).clocks
    assert clock.drift_ppm == pytest.approx(made.drift_ppm, abs=1.0)


@pytest.mark.parametrize("seed", range(3))
def test_a_fifth_missing_and_extra_on_both_sides(seed: int):
    made = lists(
        "poisson",
        150,
        seed=seed,
        missed=0.2,
        unseen=0.2,
        false_passages=0.2,
        false_pulses=0.2,
    )
    fit = fit_clocks(made.arrivals, made.pulses)
    (clock,) = fit.clocks
    at_ns, true_ns = middle(made)
    assert not fit.ambiguous
    assert abs(clock.offset_ns(at_ns) - true_ns) < 0.1e6


def test_good_counters_leave_no_doubt():
    for seed in range(6):
        made = lists(
            "column", 60, seed=seed, missed=0.005, false_passages=0, false_pulses=0, unsure=0
        )
        _, _, whole = both(made)
        assert (whole.result.count, whole.result.status) == (60, Status.CLEAN)


def test_stated_uncertainties_of_the_clock_are_honest():
    z_offset, z_drift = [], []
    for seed in range(40):
        made = lists("poisson", 60, seed=seed, interval_ms=60.0, missed=0.05)
        (clock,) = fit_clocks(made.arrivals, made.pulses).clocks
        at_ns, true_ns = middle(made)
        z_offset.append((clock.offset_ns(at_ns) - true_ns) / clock.sigma_ns(at_ns))
        z_drift.append((clock.drift_ppm - made.drift_ppm) / clock.sigma_drift_ppm)
    assert 0.75 < np.sqrt(np.mean(np.square(z_offset))) < 1.3
    assert 0.75 < np.sqrt(np.mean(np.square(z_drift))) < 1.3


@pytest.mark.parametrize("kind", ["column", "poisson", "regular"])
def test_a_beam_three_mm_lower_is_covered(kind: str):
    for seed in range(4):
        made = lists(kind, 60, seed=seed, height_error_mm=3.0, height_sigma_mm=3.0, missed=0.03)
        fit = fit_clocks(made.arrivals, made.pulses)
        if fit.ambiguous:
            continue
        at_ns, true_ns = middle(made)
        off = abs(fit.clocks[0].offset_ns(at_ns) - true_ns)
        assert off < 2.5 * fit.clocks[0].sigma_ns(at_ns)
        pairings = pair(made.arrivals, made.pulses, fit.clocks, signature=made.signature)
        assert not judge(made, pairings).wrong


def test_parts_in_the_cameras_blind_time_are_the_beams():
    made = lists("poisson", 80, seed=2, blind=((1.0, 1.3),), false_passages=0, missed=0.0)
    watch = Watch(blind=((1_000_000_000, 1_300_000_000),))
    fit = fit_clocks(made.arrivals, made.pulses, watch=watch)
    found = pair(made.arrivals, made.pulses, fit.clocks, signature=made.signature, watch=watch)
    assert sum(p.parts for p in found) == 80
    alone = [p for p in found if p.parts and not p.passages]
    assert len(alone) >= 4
    assert all(p.excused for p in alone)


def test_doubts_of_pairings_are_honest():
    # Far more errors than a camera makes, and rates that say so.
    rates = ErrorRates(camera_missed=0.05, beam_missed=0.1, beam_false=0.1)
    stated = wrong = 0.0
    for seed in range(25):
        made = lists(
            "poisson",
            100,
            seed=seed,
            unseen=0.05,
            missed=0.1,
            false_pulses=0.1,
            false_passages=0.0,
        )
        fit = fit_clocks(made.arrivals, made.pulses)
        found = pair(made.arrivals, made.pulses, fit.clocks, signature=made.signature, rates=rates)
        stated += sum(p.doubt for p in found)
        wrong += sum(_miscounted(made, p) for p in found)
    assert wrong <= 2.0 * stated + 5.0


def _miscounted(made: Lists, pairing: Pairing) -> bool:
    own = {k for n in pairing.passages for k in made.parts_of_passage[n]}
    own |= {k for n in pairing.pulses for k in made.parts_of_pulse[n]}
    return pairing.parts != len(own)
