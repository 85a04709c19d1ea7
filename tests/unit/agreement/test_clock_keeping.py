"""Clocks that are found while a run goes on, and followed."""

from collections.abc import Sequence

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, arrivals_at, pulses_at

from viscount.agreement.pairing import Pairer
from viscount.values import Pairing, Pairs

DRIFT = 80e-6
SCATTER_MS = 0.1


def streamed(at_ms: np.ndarray, pairer: Pairer) -> list[Pairing]:
    """Feed a stream of parts in blocks of 20, on a board's clock that runs fast."""
    rng = np.random.default_rng(1)
    arrivals = arrivals_at(at_ms + SCATTER_MS * rng.standard_normal(at_ms.size))
    pulses = pulses_at(at_ms * (1 + DRIFT))
    found: list[Pairing] = []
    for k in range(0, at_ms.size, 20):
        block = slice(k, k + 20)
        until = at_ms[k + 20] - 8.0 if k + 20 < at_ms.size else at_ms[-1] + 100.0
        found += pairer.feed(arrivals[block], pulses[block], round(1e6 * until))
    return found + pairer.finish()


def kinds(found: Sequence[Pairing]) -> set[Pairs]:
    return {pairing.kind for pairing in found}


def off_ms(pairer: Pairer, at_ms: float) -> float:
    true_ns = 2.5e9 + 1e6 * at_ms * DRIFT
    return 1e-6 * (pairer.clocks[0].offset_ns(round(1e6 * at_ms)) - true_ns)


def test_a_drift_is_learned_on_the_way():
    rng = np.random.default_rng(2)
    at = np.cumsum(rng.uniform(60, 140, 1000))
    pairer = Pairer(signature=SCREW)
    found = streamed(at, pairer)
    assert kinds(found) == {Pairs.AGREED}
    # 100 s at 80 ppm are 8 ms.
    assert abs(off_ms(pairer, float(at[-1]))) < 0.1
    assert pairer.clocks[0].drift_ppm == pytest.approx(80.0, abs=10.0)


@pytest.mark.parametrize("seed", [0, 1, 4])
def test_after_an_hour_the_clock_is_found_again(seed: int):
    rng = np.random.default_rng(seed)
    pour = np.cumsum(rng.uniform(15, 40, 60))
    at = np.concatenate([pour, 3.6e6 + np.cumsum(rng.uniform(15, 40, 60))])
    pairer = Pairer(signature=SCREW)
    found = streamed(at, pairer)
    # A drift that the first pour gives to 30 ppm is a tenth of a second by then.
    assert kinds(found) == {Pairs.AGREED}
    assert len(found) == 120
    assert abs(off_ms(pairer, float(at[-1]))) < 0.2


def test_known_clocks_are_left_as_they_are():
    rng = np.random.default_rng(2)
    at = np.cumsum(rng.uniform(60, 140, 40))
    first = Pairer(signature=SCREW)
    streamed(at, first)
    known = first.clocks
    second = Pairer(known, signature=SCREW)
    streamed(at, second)
    assert second.clocks == known
