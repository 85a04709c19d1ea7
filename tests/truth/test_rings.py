"""Rings that pass a narrow ray anywhere across their breadth, against sums of their own.

A ring of diameter D that passes x beside its middle is met (D - chord) / 2 after its head.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from beam_logs import ready_pour
from benchmarks.pairing.lists import board_ns, passage

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.pairing import pair
from viscount.beam.signature import signature_of
from viscount.offline import count
from viscount.outlet import Part
from viscount.values import Pairs, Pulse, Signature, Status

DIAMETER, BORE = 9.0, 4.3
SPEED = 1300.0
WASHER = Part(shape="washer", diameter_mm=DIAMETER, bore_mm=BORE, thickness_mm=0.8)
SIGMA_MS = 0.03
OFFSET_S = 3.2


@dataclass(frozen=True, kw_only=True)
class Rings:
    """Arrivals of heads, pulses, and which pulses are whose."""

    arrivals: list[Arrival]
    pulses: list[Pulse]
    of: dict[int, tuple[int, ...]]


def chord(diameter: float, x: float) -> float:
    return 2.0 * float(np.sqrt(max((diameter / 2) ** 2 - x**2, 0.0)))


def rings(seed: int, *, count: int = 40, interval_ms: float = 22.0, reach: float = 4.2) -> Rings:
    """Rings at uneven intervals, each up to `reach` beside the ray."""
    rng = np.random.default_rng(seed)
    heads = np.cumsum(rng.uniform(0.6, 1.4, count) * interval_ms * 1e-3)
    arrivals, pulses, of = [], [], {}
    for k, head in enumerate(heads.tolist(), start=1):
        x = float(rng.uniform(-reach, reach))
        outer, inner = chord(DIAMETER, x), chord(BORE, x)
        middle = head + DIAMETER / 2 / SPEED
        halves = [-outer / 2, -inner / 2, inner / 2, outer / 2] if inner > 0.3 else None
        edges = halves or [-outer / 2, outer / 2]
        at = board_ns(np.array([middle + e / SPEED for e in edges]), OFFSET_S, 30.0).tolist()
        own = []
        for start, end in zip(at[::2], at[1::2], strict=True):
            own.append(len(pulses))
            pulses.append(Pulse(id=len(pulses), epoch=0, start_ns=start, end_ns=end))
        of[k] = tuple(own)
        seen = head + 1e-3 * SIGMA_MS * float(rng.standard_normal())
        arrivals.append(
            Arrival(passage=passage(seen, k, sigma_ms=SIGMA_MS), sigma_ns=10_000, speed=SPEED)
        )
    return Rings(arrivals=arrivals, pulses=pulses, of=of)


def headed(signature: Signature) -> Signature:
    """The same as if each ring were met by its head."""
    modes = tuple(replace(m, lead=0.0, lead_sigma=0.0, even=False) for m in signature.modes)
    return replace(signature, modes=modes)


def known() -> Signature:
    signature = signature_of(WASHER, ray=True)
    assert signature is not None
    return signature


@pytest.mark.parametrize("seed", range(4))
def test_rings_beside_their_middle_keep_time(seed: int) -> None:
    made = rings(seed)
    signature = known()
    fit = fit_clocks(made.arrivals, made.pulses, signature=signature)
    (clock,) = fit.clocks
    at_ns = made.arrivals[len(made.arrivals) // 2].due_ns
    off_ms = 1e-6 * clock.offset_ns(at_ns) - 1e3 * OFFSET_S - 30e-6 * 1e-6 * at_ns
    assert abs(off_ms) < 0.05
    found = pair(made.arrivals, made.pulses, fit.clocks, signature=signature)
    assert {p.passages[0]: p.pulses for p in found} == made.of
    assert sum(p.doubt for p in found) < 0.01
    late_ms = [1e-6 * p.late_ns for p in found if p.late_ns is not None]
    assert np.std(late_ms) < 2.5 * SIGMA_MS
    assert np.abs(late_ms).max() < 0.2


def test_without_their_leads_the_same_rings_are_late_and_doubted() -> None:
    """What the leads are for: the clock is off by the usual one, and pulses by up to 3 ms."""
    made = rings(0)
    plain = headed(known())
    fit = fit_clocks(made.arrivals, made.pulses, signature=plain)
    found = pair(made.arrivals, made.pulses, fit.clocks, signature=plain)
    late_ms = [1e-6 * p.late_ns for p in found if p.late_ns is not None]
    assert np.std(late_ms) > 0.3
    assert sum(p.doubt for p in found) > 0.05


def test_close_rings_are_told_apart_by_when_they_begin() -> None:
    """A ring beside the middle begins late, so that its pulse is near to the next one's head."""
    right = total = 0
    for seed in range(10, 16):
        made = rings(seed, interval_ms=11.0)
        signature = known()
        fit = fit_clocks(made.arrivals, made.pulses, signature=signature)
        found = pair(made.arrivals, made.pulses, fit.clocks, signature=signature)
        right += sum(
            p.kind in (Pairs.AGREED, Pairs.SPLIT_PULSE) and made.of[p.passages[0]] == p.pulses
            for p in found
        )
        total += len(made.arrivals)
    assert right >= 0.99 * total


def test_washers_through_a_spot_from_clip_to_clock(tmp_path: Path) -> None:
    made = ready_pour("washers-through-spot", tmp_path, seed=4)
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert (found.count, found.status) == (15, Status.CLEAN)
    late_ms = [1e-6 * one.pairing.late_ns for one in found.pairings]
    assert np.std(late_ms) < 0.1
    assert np.abs(late_ms).max() < 0.2
    assert found.agreement.clock_offset_s == pytest.approx(0.35, abs=0.0002)
