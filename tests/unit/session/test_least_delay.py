"""The board's clock on the host's, from when its lines arrive."""

import random

import pytest

from viscount.session.least_delay import LeastDelay

MS = 1_000_000


@pytest.mark.parametrize("drift_ppm", [-60.0, 0.0, 60.0])
def test_it_is_late_by_little_and_follows_a_clock_that_runs_apart(drift_ppm: float) -> None:
    """An hour of pours: a part each 20 ms for a second, then five seconds of nothing."""
    rng, delay, offset_ns = random.Random(1), LeastDelay(), 7_000_000_000
    worst = 0
    for pour in range(600):
        for part in range(50):
            true_ns = pour * 6_000_000_000 + part * 20 * MS
            board_ns = round(true_ns * (1 + 1e-6 * drift_ppm)) - offset_ns
            late_ns = round(rng.expovariate(1 / (3 * MS))) + MS
            delay.heard(true_ns + late_ns, board_ns, 0)
            if part > 25:
                worst = max(worst, abs(delay.offset_ns - (true_ns - board_ns) - MS))
    assert worst < 3 * MS


def test_a_restarted_board_begins_anew() -> None:
    delay = LeastDelay()
    assert delay.offset_ns == 0
    delay.heard(1000 * MS, 900 * MS, 0)
    delay.heard(2000 * MS, 10 * MS, 1)
    assert delay.offset_ns == 1990 * MS
