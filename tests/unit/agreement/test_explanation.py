"""The explanation of a cluster against all explanations written out one by one."""

import math

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, WASHER, arrivals_at, pulses_at

from viscount.agreement.error_rates import ErrorRates
from viscount.agreement.events import Dark, Due, early_us, part_chances
from viscount.agreement.explanation import explain
from viscount.agreement.outline import UNKNOWN, outline
from viscount.agreement.steps import Step, Steps

RATES = ErrorRates()


def cluster(arrivals_ms, starts_ms, darks_ms=5.33, signature=None, **changes):
    own = outline(signature, None) if signature else UNKNOWN
    dues = []
    for arrival in arrivals_at(arrivals_ms, **changes):
        parts = part_chances(arrival.passage, RATES, None)
        at = 1e-3 * arrival.due_ns
        dues.append(Due(arrival, at, 100.0, parts, 1.0, own, early_us(parts, own)))
    darks = [
        Dark(p, 1e-3 * p.start_ns, 1e-3 * p.end_ns, 1.0, own)
        for p in pulses_at(starts_ms, darks_ms, offset_s=0.0)
    ]
    return dues, darks


def every_way(dues: list[Due], darks: list[Dark], steps: Steps) -> list[list[Step]]:
    """All explanations, written out without graph or order: any step from either list's head.

    Lone passages and lone pulses between two meetings come in any order here, so each explanation
    is kept once, by what it says.
    """
    found: dict[tuple, list[Step]] = {}

    def go(i: int, j: int, path: list[Step]) -> None:
        if i == len(dues) and j == len(darks):
            said = tuple(
                sorted(
                    (s.due, s.dues, s.dark, s.darks) if s.dues else (-1, 0, s.dark, s.darks)
                    for s in path
                )
            )
            found.setdefault(said, path)
            return
        if i < len(dues):
            go(i + 1, j, [*path, steps.alone_due(i)])
        if j < len(darks):
            for step in steps.alone_dark(j):
                go(i, j + step.darks, [*path, step])
        if i < len(dues) and j < len(darks):
            for step in steps.meeting(i, j):
                go(i + step.dues, j + step.darks, [*path, step])

    go(0, 0, [])
    return list(found.values())


CASES = {
    "one each": ([10.0], [10.1]),
    "merged": ([10.0, 13.7], [10.0], 9.0),
    "missed by the beam": ([10.0, 12.0, 30.0], [10.0, 30.0]),
    "missed by the camera": ([10.0], [10.0, 11.0], [0.5, 0.5]),
    "close pairs": ([10.0, 10.3, 11.0], [10.1, 10.9, 11.4], 0.4),
    "nothing fits": ([10.0, 11.0], [15.0, 16.0], 1.0),
    "pulses only": ([], [10.0, 17.0]),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("signature", [None, SCREW, WASHER])
def test_graph_and_enumeration_agree(name: str, signature):
    dues, darks = cluster(*CASES[name], signature=signature)
    if not dues and not darks:
        return
    steps = Steps(dues, darks, RATES, None)
    ways = every_way(dues, darks, steps)
    logs = np.array([sum(step.log_weight for step in way) for way in ways])
    found = explain(dues, darks, steps)
    best = sum(step.log_weight for step in found.path)
    assert best == pytest.approx(logs.max(), abs=1e-9)
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    for k in range(len(dues)):
        expected: dict[int, float] = {}
        for way, share in zip(ways, shares, strict=True):
            for step in way:
                for parts, _, part_share in step.cases:
                    if step.due <= k < step.due + step.dues:
                        n = parts[k - step.due]
                        expected[n] = expected.get(n, 0.0) + share * part_share
        for n, chance in expected.items():
            assert found.due_parts[k].get(n, 0.0) == pytest.approx(chance, abs=1e-6)
    for chances in found.due_parts + found.dark_parts:
        assert sum(chances.values()) == pytest.approx(1.0, abs=1e-6)


def test_random_crowds_agree_with_enumeration():
    rng = np.random.default_rng(11)
    for _ in range(25):
        at = np.sort(rng.uniform(0, 4, rng.integers(1, 5)))
        starts = np.sort(rng.uniform(0, 4, rng.integers(1, 5)))
        dues, darks = cluster(at, starts, rng.uniform(0.1, 1.0, starts.size).tolist(), doubt=0.2)
        steps = Steps(dues, darks, RATES, None)
        logs = [sum(s.log_weight for s in way) for way in every_way(dues, darks, steps)]
        found = explain(dues, darks, steps)
        assert sum(s.log_weight for s in found.path) == pytest.approx(max(logs), abs=1e-9)


def test_steps_are_weighed_as_their_cases_add_up():
    dues, darks = cluster([10.0], [10.0], signature=SCREW, doubt=0.3)
    steps = Steps(dues, darks, RATES, None)
    for step in [steps.alone_due(0), *steps.alone_dark(0), *steps.meeting(0, 0)]:
        assert math.isfinite(step.log_weight)
        assert sum(share for *_, share in step.cases) == pytest.approx(1.0)
