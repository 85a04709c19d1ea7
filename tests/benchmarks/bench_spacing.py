"""How well interval, spacing and gap are measured, at the line and carried to other heights.

    python tests/benchmarks/bench_spacing.py [--json] [--pours 40] [--seed 1]

Pours are drawn from `fixtures/scene_space.yaml`, written as clips, counted with their outlet file
and measured; the truth is that of the simulator's own paths. Those that are not counted exactly
and clean are left out, and told. `covered` is the share of values whose truth lies within the
stated 95 % uncertainty; `within` the share of those within it or within 1 %.

Exit status 1 where any coverage is below 90 %.
"""

import argparse
import json
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.spacing.trial import Compared, Trial, tried

from viscount.errors import ViscountError
from viscount.report.spacing_json import COVERAGE
from viscount.simulate.space import load_space

SPACE = Path(__file__).resolve().parents[2] / "fixtures" / "scene_space.yaml"
HEIGHTS_MM = (0.0, 30.0, 100.0, 300.0)
LEAST_COVERED = 0.90


def figures(trials: list[Trial]) -> dict[str, dict[str, float | int]]:
    """Return the figures of each quantity at each height."""
    gathered: dict[str, list[Compared]] = defaultdict(list)
    for trial in trials:
        for one in trial.compared:
            gathered[f"{one.quantity} at {one.height}"].append(one)
    return {name: _figures(parts) for name, parts in gathered.items()}


def _figures(parts: list[Compared]) -> dict[str, float | int]:
    found, true, sigma = (
        np.concatenate([getattr(one, name) for one in parts]) for name in ("found", "true", "sigma")
    )
    if not found.size:
        return {"pairs": 0}
    off = np.abs(found - true)
    size = np.maximum(np.abs(true), 1e-9)
    covered = off <= COVERAGE * sigma
    return {
        "pairs": int(found.size),
        "covered": round(float(covered.mean()), 4),
        "within": round(float((covered | (off <= 0.01 * np.abs(true))).mean()), 4),
        "median_error_percent": round(float(100 * np.median(off / size)), 4),
        "median_u95_percent": round(float(100 * np.median(COVERAGE * sigma / size)), 4),
        "worst_sigmas": round(float((off / sigma).max()), 2),
    }


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pours", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    given = parser.parse_args()
    space = load_space(SPACE)
    trials, broke = [], 0
    for number in range(given.seed, given.seed + given.pours):
        try:
            trials.append(tried(space.draw(number), HEIGHTS_MM))
        except ViscountError as error:
            broke += 1
            print(f"pour {number}: {error}", file=sys.stderr)
    rows = figures(trials)
    answer = {
        "pours": given.pours,
        "seed": given.seed,
        "measured": sum(trial.exact for trial in trials),
        "not_simulated_or_refused": broke,
        "rows": rows,
    }
    if given.json:
        print(json.dumps(answer, allow_nan=False))
    else:
        print(f"{answer['measured']} of {given.pours} pours are counted exactly and clean")
        for name, row in rows.items():
            print(f"{name:22}", "  ".join(f"{key} {value}" for key, value in row.items()))
    told = [row["covered"] for row in rows.values() if row["pairs"]]
    return int(not told or min(told) < LEAST_COVERED)


if __name__ == "__main__":
    sys.exit(main())
