"""How well a plan's chances are those of cuts, and how often its limits hold them.

    python tests/benchmarks/bench_cut.py [--json] [--cuts 1000000] [--worlds 200] [--seed 8]

First: pours and strokes are taken as they are, and a million cuts are made of them by brute force
(no code shared with the planner), with the planned delay; the shares must be those of the trials.
Then: worlds of columns and gates are drawn, of each a few pours and strokes are measured and
planned with, and fresh cuts of the same world say what truly comes of that delay. The limits must
hold it in 95 % or more, a lower limit may be too good in 2.5 %, and what the plan foresaw must be
what happened, on average, within two standard errors and a point, of however few pours.
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

from viscount.gate.cuts import SEED, plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.gate.strokes import Strokes
from viscount.gate.trials import Trials
from viscount.stream import Poured

NUMBERS = (1, 4, 8, 12, 20, 30)
PLACES = Places(beam=-40.0, blade=60.0, sigma_beam=0.3, sigma_blade=0.3, lip=-100.0)
FEW = ((3, 4), (5, 8), (9, 14))
"""Numbers of measured pours that are told apart."""
TOLD = ("foreseen", "true")
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


def measured(count: int, pours: int, seed: int) -> list[Poured]:
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
    trials = Trials(pours, PLACES, gate, LATE, seed=SEED + 1, fine=4)
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
        told = trials.outcome(row.number, row.trigger.back, np.array(row.trigger.delay_s))
        stated = {key: getattr(told, key) for key in met}
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


def world_of(seed: int) -> dict[str, Any] | None:
    """Return what was planned with a few pours and strokes of one world, and what truly came.

    None where no delay is any good.
    """
    rng = np.random.default_rng(seed)
    number = int(rng.integers(3, 25))
    jitter_s, takes_ms = rng.uniform(1e-4, 8e-4), rng.uniform(1.0, 5.0)

    def pours(many: int) -> list[Poured]:
        seeds = rng.integers(2**32, size=many)
        return [column(number + 3, jitter_s=jitter_s, seed=int(one)) for one in seeds]

    def gate(many: int) -> Strokes:
        return drawn_strokes(many, int(rng.integers(2**32)), takes_ms=takes_ms)

    seen, known = pours(int(rng.integers(3, 15))), gate(int(rng.integers(5, 25)))
    (row,) = plan_cuts(seen, Places(beam=-40.0, blade=60.0), known, each=number, rate=0.5).rows
    if row.outcome is None or row.trigger.delay_s is None:
        return None
    coming = gate(4000).shutting
    true = outcomes(
        pours(400),
        Setting(beam=-40.0, blade=60.0),
        coming.begins_s,
        coming.done_s,
        number=number,
        back=row.trigger.back,
        delay_s=row.trigger.delay_s,
        cuts=20_000,
        seed=seed,
    )
    told = {key: getattr(row.outcome, key) for key in true}
    return {
        "pours": len(seen),
        "measured": row.trigger.chance,
        "promised": row.promised,
        **{f"{key}_foreseen": chance.estimate for key, chance in told.items()},
        **{f"{key}_true": share for key, share in true.items()},
        "low": told["exact"].low,
        "high": told["exact"].high,
    }


def limits(worlds: int, seed: int) -> dict[str, Any]:
    """Return how often the limits of few pours and strokes hold the true chance of that delay."""
    made = [world_of(int(one)) for one in np.random.default_rng(seed).integers(2**32, size=worlds)]
    found = [one for one in made if one is not None]
    true = np.array([one["exact_true"] for one in found])
    low, high = (np.array([one[key] for one in found]) for key in ("low", "high"))
    promised = np.array([one["promised"] for one in found], dtype=np.bool_)
    spans = (*FEW, (FEW[0][0], FEW[-1][1]))
    return {
        "worlds": worlds,
        "planned": len(found),
        "inside": float(np.mean((low <= true) & (true <= high))),
        "low_too_good": float(np.mean(true < low)),
        "promised_half": int(promised.sum()),
        "promised_half_and_less": int((promised & (true < 0.5)).sum()),
        "by_pours": [
            averages([one for one in found if least <= one["pours"] <= most], least, most)
            for least, most in spans
        ],
    }


def averages(found: list[dict[str, Any]], least: int, most: int) -> dict[str, Any]:
    """Return what was measured, foreseen and true on average, of worlds with so many pours."""

    def mean(key: str) -> float | None:
        return float(np.mean([one[key] for one in found])) if found else None

    off = np.array([one["exact_foreseen"] - one["exact_true"] for one in found])
    error = float(off.std()) / len(off) ** 0.5 if len(off) else 0.0
    kinds = ("exact", "short", "over", "pinched")
    return {
        "pours_from": least,
        "pours_to": most,
        "worlds": len(found),
        "measured": mean("measured"),
        **{f"{kind}_{what}": mean(f"{kind}_{what}") for kind in kinds for what in TOLD},
        "off": float(off.mean()) if len(off) else 0.0,
        "off_standard_error": error,
        "good": not len(off) or bool(abs(off.mean()) < 0.01 + 2 * error),
    }


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--cuts", type=int, default=1_000_000)
    parser.add_argument("--worlds", type=int, default=200)
    parser.add_argument("--seed", type=int, default=8, help="of the worlds drawn")
    given = parser.parse_args()
    rows, held = against_brute_force(given.cuts), limits(given.worlds, given.seed)
    good = all(row["inside"] and row["worst_off"] < 0.02 for row in rows)
    good = good and held["inside"] >= 0.95 and held["low_too_good"] <= 0.025
    good = good and all(one["good"] for one in held["by_pours"])
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
        f"limits held the truth in {100 * held['inside']:.1f} % of {held['planned']} worlds, the "
        f"lower was too good in {100 * held['low_too_good']:.1f} %; of {held['promised_half']} "
        f"cuts promised for one in two, {held['promised_half_and_less']} were exact less often"
    )
    for one in held["by_pours"]:
        shares = ", ".join(
            f"{kind} {100 * (one[f'{kind}_foreseen'] or 0):.1f} "
            f"({100 * (one[f'{kind}_true'] or 0):.1f})"
            for kind in ("exact", "short", "over", "pinched")
        )
        print(
            f"{one['pours_from']} to {one['pours_to']} pours, {one['worlds']} worlds, on average: "
            f"{100 * (one['measured'] or 0):.1f} % of the measured; % foreseen (true): {shares}; "
            f"off by {100 * one['off']:.1f} +- {100 * one['off_standard_error']:.1f}"
        )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
