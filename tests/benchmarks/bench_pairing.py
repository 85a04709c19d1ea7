"""How well two event lists are brought together: clocks, pairings, totals, time per event.

    python tests/benchmarks/bench_pairing.py [--json] [--pours 40] [--events 1000 10000 100000]

Made-up lists with known truth, no pictures. Offsets are drawn up to 10 s, drifts up to 100 ppm,
passages scatter by 0.05 to 0.2 ms. Where a row does not say otherwise the beam misses 8 % of the
parts, merges those that follow too closely, and both counters report things that were no parts.
"""

import argparse
import json
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.pairing.lists import lists
from benchmarks.pairing.trial import figures, tried

from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.pairing import pair

GOOD = {"missed": 0.005, "false_passages": 0.0, "false_pulses": 0.001, "unsure": 0.0}
ALIKE = {**GOOD, "missed": 0.02, "unseen": 0.02}
BAD = {"missed": 0.2, "unseen": 0.2, "false_passages": 0.2, "false_pulses": 0.2}
HEIGHT = {"height_error_mm": 3.0, "height_sigma_mm": 3.0}
SCATTER_MS = 0.05, 0.1, 0.2

ROWS = {
    "column of 60": {"kind": "column", "count": 60},
    "column, beam merges": {"kind": "column", "count": 60, "clear_ms": 2.0},
    "column, good counters": {"kind": "column", "count": 60, **GOOD},
    "five columns": {"kind": "columns", "count": 300},
    "single, 25 a second": {"kind": "poisson", "count": 100, "interval_ms": 40.0},
    "single, good counters": {"kind": "poisson", "count": 100, "interval_ms": 40.0, **GOOD},
    "loose, 80 a second": {"kind": "poisson", "count": 100, "interval_ms": 12.0},
    "single, both miss 2 %": {"kind": "poisson", "count": 100, "interval_ms": 40.0, **ALIKE},
    "single, not taught": {"kind": "poisson", "count": 100, "interval_ms": 40.0, **GOOD},
    "column, not taught": {"kind": "column", "count": 60, "clear_ms": 2.0, **GOOD},
    "20 parts": {"kind": "poisson", "count": 20, "interval_ms": 40.0},
    "a fifth missing, extra": {"kind": "poisson", "count": 150, "interval_ms": 40.0, **BAD},
    "ten minutes": {"kind": "poisson", "count": 600, "interval_ms": 1000.0},
    "every 40 ms": {"kind": "regular", "count": 40},
    "every 40 ms, good": {"kind": "regular", "count": 40, **GOOD},
    "beam 3 mm lower, column": {"kind": "column", "count": 60, **HEIGHT},
    "beam 3 mm lower, single": {"kind": "poisson", "count": 100, **HEIGHT},
}
LONG_ROWS = ("ten minutes", "five columns")


def measured(pours: int) -> dict[str, dict[str, float | int | None]]:
    """Return the figures of each row."""
    found = {}
    for number, (name, row) in enumerate(ROWS.items()):
        runs = max(pours // 4, 1) if name in LONG_ROWS else pours
        found[name] = figures(
            tried(
                lists(**row, seed=1000 * number + k, sigma_ms=SCATTER_MS[k % 3]),
                taught="not taught" not in name,
            )
            for k in range(runs)
        )
    return found


def timed(events: int) -> dict[str, float]:
    """Return how long so many events take, in us of this process's own time for each."""
    made = lists("poisson", events // 2, seed=1, interval_ms=60.0)
    count = len(made.arrivals) + len(made.pulses)
    begun = time.process_time()
    fit = fit_clocks(made.arrivals, made.pulses, signature=made.signature)
    fitted = time.process_time()
    pair(made.arrivals, made.pulses, fit.clocks, signature=made.signature)
    done = time.process_time()
    return {"clock_us": 1e6 * (fitted - begun) / count, "pairing_us": 1e6 * (done - fitted) / count}


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--pours", type=int, default=40, help="pours for each row")
    parser.add_argument("--events", type=int, nargs="*", default=[1000, 10_000, 100_000])
    given = parser.parse_args()
    rows = measured(given.pours)
    times = {str(events): timed(events) for events in given.events}
    if given.json:
        print(json.dumps({"rows": rows, "us_per_event": times}))
        return 0
    columns = (
        ("pours", "pours", "d"),
        ("ambiguous", "ambig", "d"),
        ("no_clock", "none", "d"),
        ("offset_max_ms", "offset ms", ".3f"),
        ("offset_z", "z", ".2f"),
        ("drift_max_ppm", "drift ppm", ".1f"),
        ("drift_z", "z", ".2f"),
        ("right", "right", ".5f"),
        ("exact", "exact", "d"),
        ("range_held", "held", "d"),
        ("clean", "clean", "d"),
        ("clean_and_wrong", "wrong", "d"),
        ("clean_beyond_both", "beyond", "d"),
        ("wrong_unsaid", "unsaid", "d"),
    )
    print(" " * 24 + "".join(f"{title:>10}" for _, title, _ in columns))
    for name, row in rows.items():
        cells = ("-" if row[key] is None else format(row[key], spec) for key, _, spec in columns)
        print(f"{name:24}" + "".join(f"{cell:>10}" for cell in cells))
    for events, spent in times.items():
        print(
            f"{events:>8} events: {spent['clock_us']:6.1f} us each for the clock, "
            f"{spent['pairing_us']:6.1f} us for the pairing"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
