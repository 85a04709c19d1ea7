"""Clock fit and pairing against scipy, where scipy can do the same thing."""

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, arrivals_at, pulses_at
from benchmarks.pairing.lists import lists
from scipy.optimize import least_squares, linear_sum_assignment

from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.pairing import pair


@pytest.mark.parametrize("seed", range(5))
def test_the_clock_is_that_of_a_robust_line_through_the_true_matches(seed: int):
    made = lists("poisson", 300, seed=seed, interval_ms=200.0, missed=0.1)
    (clock,) = fit_clocks(made.arrivals, made.pulses).clocks
    first = {}
    for pulse in made.pulses:
        if len(made.parts_of_pulse[pulse.id]) == 1:
            first[made.parts_of_pulse[pulse.id][0]] = pulse.start_ns
    rows = [
        (a.due_ns, first[own[0]], a.passage.sigma_ns)
        for a in made.arrivals
        if (own := made.parts_of_passage[a.passage.id]) and own[0] in first
    ]
    due, start, sigma = np.array(rows, dtype=float).T
    middle = due.mean()

    def off(line):
        return (start - due - line[0] - line[1] * 1e-6 * (due - middle)) / sigma

    line = least_squares(off, [np.median(start - due), 0.0], loss="soft_l1", x_scale=[1e5, 1.0])
    assert clock.offset_ns(round(middle)) == pytest.approx(
        line.x[0], abs=1.0 * clock.sigma_ns(round(middle))
    )
    assert clock.drift_ppm == pytest.approx(line.x[1], abs=1.0 * clock.sigma_drift_ppm)


@pytest.mark.parametrize("seed", range(5))
def test_single_parts_are_paired_as_by_the_best_assignment(seed: int):
    rng = np.random.default_rng(seed)
    at = np.cumsum(rng.uniform(8, 30, 60))
    seen = rng.random((2, 60)) > 0.07
    ours = at[seen[0]] + 0.1 * rng.standard_normal(int(seen[0].sum()))
    theirs = at[seen[1]]
    arrivals, pulses = arrivals_at(ours), pulses_at(theirs)
    (clock,) = fit_clocks(arrivals, pulses).clocks
    cost = np.abs(ours[:, None] + 1e-6 * clock.offset_ns(0) - 2500.0 - theirs[None, :])
    limit = 2.0
    padded = np.full((ours.size + theirs.size,) * 2, limit / 2)
    padded[: ours.size, : theirs.size] = cost
    padded[ours.size :, theirs.size :] = 0.0
    rows, columns = linear_sum_assignment(padded)
    expected = {
        (int(r) + 1, int(c))
        for r, c in zip(rows, columns, strict=True)
        if r < ours.size and c < theirs.size and cost[r, c] < limit
    }
    found = pair(arrivals, pulses, (clock,), signature=SCREW)
    assert {(p.passages[0], p.pulses[0]) for p in found if p.passages and p.pulses} == expected
