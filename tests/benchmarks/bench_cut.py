"""How well a plan's chances are those of cuts, and how often its limits hold them.

    python tests/benchmarks/bench_cut.py [--json] [--cuts 1000000] [--worlds 200]

First: pours and strokes are taken as they are, and a million cuts are made of them by brute force
(no code shared with the planner); the shares must be the stated chances. Then: worlds of columns
and gates are drawn, of each a few pours and strokes are measured and planned with, and fresh cuts
of the same world say what the chance truly was; the limits must hold it in 95 % or more.
"""

import argparse
import json
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.cutting.brute import Setting, outcomes
from poured_by_hand import column, drawn_strokes

from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places

NUMBERS = (1, 4, 8, 12, 20, 30)
PLACES = Places(beam=-40.0, blade=60.0, sigma_beam=0.3, sigma_blade=0.3, lip=-100.0)
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


def limits(worlds: int) -> dict[str, float]:
    """Return how often the limits of few pours and strokes hold the true chance of that delay."""
    inside = stated = true = 0.0
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
        stated, true = stated + exact.estimate, true + met
    return {
        "worlds": worlds,
        "inside": inside / worlds,
        "stated_mean": stated / worlds,
        "true_mean": true / worlds,
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
    print(
        f"limits held the truth in {100 * held['inside']:.1f} % of {worlds_of(held)} worlds; "
        f"stated {100 * held['stated_mean']:.1f} %, true {100 * held['true_mean']:.1f} % on average"
    )
    return 0 if good else 1


def worlds_of(held: dict[str, float]) -> int:
    """Return how many worlds were drawn."""
    return int(held["worlds"])


if __name__ == "__main__":
    sys.exit(main())
