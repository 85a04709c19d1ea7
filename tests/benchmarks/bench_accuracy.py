"""How right the counting is on simulated pours, beside what general-purpose libraries make of them.

    python tests/benchmarks/bench_accuracy.py [--scenes PATH...] [--random N] [--seed S] [--quick]
                                              [--json] [--baseline [FILE]] [--write-baseline]

Every pour is written as a clip and counted by the offline run twice: with the outlet file that
the simulator writes ("full"), and with line and direction alone ("bare"). The rivals count the
very sightings that the detector made in that run. Without `--scenes`, `--random` and `--quick`
all ready scenes are counted, and a hundred drawn at random.

Exit status 1 where something fell below the baseline it was compared with, else 0.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import cv2
from rich.console import Console

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.accuracy import summary, table
from benchmarks.accuracy.baseline import BASELINE, compare, load_baseline, write_baseline
from benchmarks.accuracy.cases import (
    MODES,
    SCENES,
    Case,
    quick_cases,
    random_cases,
    ready_cases,
)
from benchmarks.accuracy.judging import Judgement, judge_case

from viscount.errors import ViscountError

SCHEMA = "viscount.accuracy/1"
RANDOM = 100
PRINTED_WIDTH = 160
"""Columns of the tables where they go to a file."""


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scenes", type=Path, nargs="+", default=[], help="files or folders")
    parser.add_argument("--random", type=int, metavar="N", help="pours drawn at random")
    parser.add_argument("--seed", type=int, default=1, help="of the first of them")
    parser.add_argument("--quick", action="store_true", help="ten ready scenes")
    parser.add_argument("--no-rivals", action="store_true")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--baseline", type=Path, nargs="?", const=BASELINE, metavar="FILE")
    parser.add_argument("--write-baseline", action="store_true", help="store what was found")
    return parser.parse_args()


def chosen(given: argparse.Namespace) -> Iterator[Case]:
    """Yield the cases that the command line asks for."""
    if given.quick:
        return quick_cases()
    everything = not given.scenes and given.random is None
    drawn = RANDOM if everything else given.random or 0
    ready = ready_cases([SCENES] if everything else given.scenes)
    return chain(ready, random_cases(drawn, given.seed))


def main() -> int:
    """Count, judge and print."""
    given = arguments()
    cv2.setNumThreads(1)
    progress = Console(stderr=True)
    found: list[Judgement] = []
    broken: dict[str, str] = {}
    with progress.status("") as line:
        for case in chosen(given):
            line.update(f"{len(found) // len(MODES) + 1}: {case.name}")
            try:
                found += judge_case(case, rivals=not given.no_rivals)
            except ViscountError as error:
                broken[case.name] = str(error)
    baseline = given.baseline or BASELINE
    fell = compare(found, load_baseline(baseline)) if given.baseline else []
    if given.write_baseline:
        write_baseline([one for one in found if not one.scene.startswith("random-")], baseline)
    if given.json:
        figures = {
            "schema": SCHEMA,
            "bench": "accuracy",
            "opencv": cv2.__version__,
            "scenes": [one.as_json() for one in found],
            "summary": summary.as_json(found),
            "fell": fell,
            "broken": broken,
        }
        print(json.dumps(figures, allow_nan=False))
    else:
        console = Console()
        if not console.is_terminal:
            console.width = PRINTED_WIDTH
        table.show(found, console)
        for name, error in broken.items():
            console.print(f"[red]{name} could not be counted: {error}")
        for what in fell:
            console.print(f"[red]fell below the baseline: {what}")
    return 1 if fell or broken else 0


if __name__ == "__main__":
    sys.exit(main())
