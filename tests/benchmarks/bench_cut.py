"""How well a plan's chances are those of cuts, and how often its limits hold them.

    python tests/benchmarks/bench_cut.py [--json] [--cuts 1000000] [--worlds 200]

First: pours and strokes are taken as they are, and a million cuts are made of them by brute force
(no code shared with the planner); the shares must be the stated chances. Then: worlds of columns
and gates are drawn, of each a few pours and strokes are measured and planned with, and fresh cuts
of the same world say what the chance truly was; the limits must hold it in 95 % or more, and what
the plan foresaw must be what happened, on average, within two standard errors and a point.
"""

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.cutting.brute import Setting, outcomes
from poured_by_hand import column, drawn_strokes

from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places

NUMBERS = (1, 4, 8, 12, 20, 30)
PLACES = Places(beam=-40.0, blade=60.0, sigma_beam=0.3, sigma_blade=0.3, lip=-100.0)
FEW = ((3, 4), (5, 8), (9, 14))
"""Numbers of measured pours that are told apart."""
LATE = Lateness(least_s=1e-4, most_s=4e-4, tick_s=1e-4, jitter_s=5e-5)
SETTING = Setting(
    beam=-40.0,
    blade=60.0,
    sigma_beam=0.3,
    sigma_blade=0.3,
    late=(1e-4, 4e-4),
    tick=1e-4,
    jitter=5e-5,
)


def measured(count: int, pours: int, seed: int) -> list:  # type: ignore[type-arg]
    """Return columns as a camera would have measured them."""
    errors = {
        "sigma_s": np.full(count, 1e-4),
        "sigma_speed": np.full(count, 3.0),
        "sigma_end": 0.05,
        "sigma_acceleration": 30.0,
        "sigma_speed_share": 0.003,
    }
    return [column(count, jitter_s=3e-4, seed=seed + k, **errors) for k in range(pours)]


def against_brute_force(cuts: int) -> list[dict[str, float]]:
    """Return each number's stated chances beside the shares that were met."""
    pours, gate = measured(40, 6, 1), drawn_strokes(30, 3)
    began = time.perf_counter()
    plan = plan_cuts(pours, PLACES, gate, lateness=LATE)
    plan_s = time.perf_counter() - began
    rows = []
    for row in plan.rows:
        if row.number not in NUMBERS or row.outcome is None or row.trigger.delay_s is None:
            continue
        met = outcomes(
            pours,
            SETTING,
            gate.shutting.begins_s,
            gate.shutting.done_s,
            number=row.number,
            back=row.trigger.back,
            delay_s=row.trigger.delay_s,
            cuts=cuts,
            seed=row.number,
        )
        stated = {key: getattr(row.outcome, key) for key in met}
        rows.append(
            {
                "n": row.number,
                **{f"{key}_stated": stated[key].estimate for key in met},
                **{f"{key}_met": share for key, share in met.items()},
                "inside": all(stated[k].low <= met[k] <= stated[k].high for k in met),
                "worst_off": max(abs(stated[k].estimate - met[k]) for k in met),
                "plan_s": plan_s,
            }
        )
    return rows


def limits(worlds: int) -> dict[str, Any]:
    """Return how often the limits of few pours and strokes hold the true chance of that delay."""
    inside = 0.0
    found: list[tuple[int, float, float, float]] = []
    rng = np.random.default_rng(8)
    for world in range(worlds):
        number = int(rng.integers(3, 25))
        jitter_s, takes_ms = rng.uniform(1e-4, 8e-4), rng.uniform(1.0, 5.0)

        def pours(many: int, seed: int, count: int = number + 3, j: float = jitter_s) -> list:  # type: ignore[type-arg]
            return [column(count, jitter_s=j, seed=seed + k) for k in range(many)]

        gate = drawn_strokes(int(rng.integers(5, 25)), 7 * world, takes_ms=takes_ms)
        seen = pours(int(rng.integers(3, 15)), 10_000 * world)
        (row,) = plan_cuts(seen, Places(beam=-40.0, blade=60.0), gate, each=number).rows
        if row.outcome is None or row.trigger.delay_s is None:
            inside += 1
            continue
        fresh = drawn_strokes(4000, 7 * world + 1, takes_ms=takes_ms)
        met = outcomes(
            pours(400, 10_000 * world + 500),
            Setting(beam=-40.0, blade=60.0),
            fresh.shutting.begins_s,
            fresh.shutting.done_s,
            number=number,
            back=row.trigger.back,
            delay_s=row.trigger.delay_s,
            cuts=20_000,
            seed=world,
        )["exact"]
        exact = row.outcome.exact
        inside += exact.low <= met <= exact.high
        found.append((len(seen), exact.estimate, row.exact or 0.0, met))
    return {
        "worlds": worlds,
        "inside": inside / worlds,
        "by_pours": [
            averages([one for one in found if low <= one[0] <= high], low, high)
            for low, high in FEW
        ],
        "all": averages(found, FEW[0][0], FEW[-1][1]),
    }


def averages(found: list[tuple[int, float, float, float]], low: int, high: int) -> dict[str, float]:
    """Return what was measured, foreseen and true on average, of worlds with so many pours."""
    _, measured, foreseen, true = np.array(found, dtype=np.float64).reshape(-1, 4).T
    many = max(len(found), 1)
    off = foreseen - true
    return {
        "pours_from": low,
        "pours_to": high,
        "worlds": len(found),
        "measured": float(measured.sum()) / many,
        "foreseen": float(foreseen.sum()) / many,
        "true": float(true.sum()) / many,
        "foreseen_off": float(off.sum()) / many,
        "off_standard_error": float(off.std()) / many**0.5 if found else 0.0,
    }


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--cuts", type=int, default=1_000_000)
    parser.add_argument("--worlds", type=int, default=200)
    given = parser.parse_args()
    rows, held = against_brute_force(given.cuts), limits(given.worlds)
    good = all(row["inside"] and row["worst_off"] < 0.02 for row in rows) and held["inside"] >= 0.95
    good = good and abs(held["all"]["foreseen_off"]) < 0.01 + 2 * held["all"]["off_standard_error"]
    if given.json:
        print(json.dumps({"cuts": given.cuts, "rows": rows, "limits": held, "good": good}))
        return 0 if good else 1
    for row in rows:
        shares = ", ".join(
            f"{key} {100 * row[f'{key}_stated']:.2f} ({100 * row[f'{key}_met']:.2f})"
            for key in ("exact", "short", "over", "pinched")
        )
        print(f"N = {row['n']:2.0f}, % stated (met): {shares}")
    print(f"planned in {rows[0]['plan_s']:.1f} s")
    print(f"limits held the truth in {100 * held['inside']:.1f} % of {held['worlds']} worlds")
    for one in (*held["by_pours"], held["all"]):
        print(
            f"{one['pours_from']} to {one['pours_to']} pours: {one['worlds']} worlds, on average "
            f"{100 * one['measured']:.1f} % of the measured, "
            f"{100 * one['foreseen']:.1f} % foreseen, {100 * one['true']:.1f} % true"
        )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
