"""What two counters together must reach, in one table: each line says what is wanted, and what is.

    python tests/benchmarks/bench_acceptance.py [--json] [--pours 40] [--drawn 30] [--seed S]
                                                [--pulses 1000000]

Made-up event lists (offsets up to 10 s, drifts up to 100 ppm, 8 % missed pulses, merges; see
`bench_pairing.py`), pours drawn at random with a beam beside the camera, from clip and log to the
tally of both (edges that chatter, pulses missed), and a log of a million pulses
(see `bench_beam.py`). Exit status 1 where a line does not hold.
"""

import argparse
import json
import math
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.bench_beam import made, seconds, traced_kib, write_log
from benchmarks.bench_pairing import ROWS, SCATTER_MS
from benchmarks.pairing.drawn import Drawn, judged
from benchmarks.pairing.lists import lists
from benchmarks.pairing.trial import Trial, figures, tried

from viscount.values import Status

PLAIN = (
    "column of 60",
    "column, beam merges",
    "five columns",
    "single, 25 a second",
    "loose, 80 a second",
    "20 parts",
    "ten minutes",
    "every 40 ms",
)
LONG = ("ten minutes", "five columns")
HEIGHT = ("beam 3 mm lower, column", "beam 3 mm lower, single")
HARD = ("a fifth missing, extra",)
RIGHT, OFFSET_MS, DRIFT_PPM = 0.999, 0.2, 5.0
COVER = 3.0
"""Standard uncertainties within which every offset lies."""
TENTH = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the table."""

    what: str
    wanted: str
    found: float | int | str
    holds: bool


def trials(name: str, pours: int) -> list[Trial]:
    """Run one row of the made-up lists."""
    number = list(ROWS).index(name)
    runs = max(pours // 4, 1) if name in LONG else pours
    return [
        tried(lists(**ROWS[name], seed=50_000 + 1000 * number + k, sigma_ms=SCATTER_MS[k % 3]))
        for k in range(runs)
    ]


def of_lists(pours: int) -> Iterator[Line]:
    """Yield what made-up lists come to."""
    by_row = {name: trials(name, pours) for name in (*PLAIN, *HEIGHT, *HARD)}
    plain = [trial for name in PLAIN for trial in by_row[name]]
    whole = figures(plain)
    yield _at_most("greatest error of an offset, ms", OFFSET_MS, whole["offset_max_ms"])
    drift = figures(by_row["ten minutes"])["drift_max_ppm"]
    yield _at_most("greatest error of a drift over ten minutes, ppm", DRIFT_PPM, drift)
    regular = by_row["every 40 ms"]
    off = [
        t for t in regular if not t.ambiguous and (t.offset is None or abs(t.offset) > OFFSET_MS)
    ]
    said = sum(trial.ambiguous for trial in regular)
    yield Line(
        what="regular streams neither within 0.2 ms nor said to be ambiguous",
        wanted="0",
        found=f"{len(off)} of {len(regular)}, {said} said",
        holds=not off,
    )
    yield Line(
        what="share of pairings that are right",
        wanted=f"{RIGHT:g} or more",
        found=round(float(whole["right"] or 0.0), 5),
        holds=float(whole["right"] or 0.0) >= RIGHT,
    )
    wrong = sum(trial.wrong_clean for trial in (*plain, *by_row[HARD[0]]))
    yield _none("clean and wrong, of what either counter could know", wrong, len(plain) + pours)
    beyond = sum(t.clean and not t.exact and not t.wrong_clean for t in plain)
    yield Line(what="clean, short of parts that neither saw", wanted="-", found=beyond, holds=True)
    lower = [t for name in HEIGHT for t in by_row[name] if t.offset_z is not None]
    worst = max((abs(t.offset_z or 0.0) for t in lower), default=math.inf)
    yield _at_most("beam 3 mm lower than stated: error over stated uncertainty", COVER, worst)
    robust = figures(by_row[HARD[0]])
    yield _at_most(
        "a fifth missing and extra on both sides: offset, ms", OFFSET_MS, robust["offset_max_ms"]
    )


def of_clips(count: int, seed: int) -> Iterator[Line]:
    """Yield what drawn pours come to, from clip and log to tally."""
    found = [one for k in range(count) for one in judged(seed + k)]
    yield _none("drawn pours, clean and wrong", sum(d.clean_and_wrong for d in found), len(found))
    for mode in ("full", "bare"):
        own = [d for d in found if d.mode == mode and d.separable]
        both = sum(d.status is Status.CLEAN for d in own)
        alone = sum(d.camera is Status.CLEAN for d in own)
        lost = sum(d.camera is Status.CLEAN and d.status is not Status.CLEAN for d in own)
        yield Line(
            what=f"separable ones ({mode}): clean with the beam, by the camera alone, lost",
            wanted="-",
            found=f"{both}, {alone}, {lost} of {len(own)}",
            holds=True,
        )
    saved = [d for d in found if d.camera is not Status.CLEAN and d.status is Status.CLEAN]
    yield Line(
        what="camera in doubt, both clean",
        wanted="all exact",
        found=f"{sum(d.exact for d in saved)} of {len(saved)}",
        holds=all(d.exact or d.unseen for d in saved),
    )
    yield _at_most("offset from clip and log, error over uncertainty", COVER, _worst(found))


def of_logs(pulses: int) -> Iterator[Line]:
    """Yield what a long log takes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "beam.csv"
        rows = write_log(path, pulses)
        right = made(path) == pulses
        whole, part = seconds(path), seconds(path, rows // TENTH)
        peaks = traced_kib(path, rows // TENTH), traced_kib(path, None)
    yield Line(what=f"pulses of {pulses}", wanted="all", found=str(right), holds=right)
    yield _at_most("time for each row, over that in a tenth", 1.3, whole / part / TENTH)
    yield _at_most("memory, over that of a tenth", 1.1, peaks[1] / peaks[0])


def _worst(found: list[Drawn]) -> float:
    return max((abs(d.offset_z) for d in found if d.offset_z is not None), default=0.0)


def _at_most(what: str, most: float, found: float | int | None) -> Line:
    value = math.inf if found is None else float(found)
    return Line(
        what=what,
        wanted=f"{most:g} or less",
        found=round(value, 4) if math.isfinite(value) else "none",
        holds=value <= most,
    )


def _none(what: str, found: int, of: int) -> Line:
    limit = f" (rule of three: below {3.0 / of:.3f})" if of and not found else ""
    return Line(what=what, wanted="0", found=f"{found} of {of}{limit}", holds=found == 0)


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--pours", type=int, default=40, help="made-up pours for each row")
    parser.add_argument("--drawn", type=int, default=30, help="pours from clip and log")
    parser.add_argument("--seed", type=int, default=0, help="of the first drawn pour")
    parser.add_argument("--pulses", type=int, default=1_000_000)
    given = parser.parse_args()
    table = [*of_lists(given.pours), *of_clips(given.drawn, given.seed), *of_logs(given.pulses)]
    if given.json:
        print(json.dumps({"lines": [asdict(line) for line in table]}))
    else:
        for line in table:
            mark = " " if line.holds else "!"
            print(f"{mark} {line.what:<68} {line.wanted:<16} {line.found}")
    return 0 if all(line.holds for line in table) else 1


if __name__ == "__main__":
    sys.exit(main())
