"""How sure a count is: many pours that nobody has seen, each counted and judged.

    python tests/benchmarks/bench_pours.py [--pours 2000] [--seed S] [--out FILE] [--at-most N]
                                           [--jobs 2] [--json]

The pours are drawn from `fixtures/scene_space.yaml`; pour k has the seed S + k. Without `--seed`
S comes from the operating system's randomness, so that nothing can have been tuned to it. Each is
counted with the outlet file that the simulator writes ("full"), and with line and direction alone
("bare").

With `--out` every pour is kept in FILE as soon as it is done, one JSON object a line. Called again
with the same FILE the bench goes on with what is missing; `--at-most N` ends each call after N
pours. How many pours there will be is set when the file is begun, and cannot be changed later.

Exit status 0 where no separable pour is clean and wrong, at least 97 % of separable ones are clean
and exact in both modes, and none broke; 1 where not, among those that are done; 2 where FILE does
not belong to this run; 130 where the run was interrupted.
"""

import argparse
import json
import secrets
import sys
import tempfile
from dataclasses import asdict
from itertools import islice
from pathlib import Path
from typing import Any

from rich.console import Console

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.pours import record, table
from benchmarks.pours.figures import all_figures, faults
from benchmarks.pours.lanes import side_by_side
from benchmarks.pours.pour import Pour, poured
from benchmarks.pours.record import Head

from viscount.errors import ExitStatus, ViscountError

POURS = 2000
SEEDS = 2**40
PRINTED_WIDTH = 160
"""Columns of the tables where they go to a file."""


def positive(word: str) -> int:
    """Read a whole number above zero."""
    number = int(word)
    if number < 1:
        raise argparse.ArgumentTypeError("must be 1 or more")
    return number


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pours", type=positive, help=f"how many in all ({POURS})")
    parser.add_argument("--seed", type=int, help="of the first; drawn afresh where not given")
    parser.add_argument("--out", type=Path, metavar="FILE", help="keep each pour here, or go on")
    parser.add_argument("--at-most", type=positive, metavar="N", help="pours in this call")
    parser.add_argument("--jobs", type=positive, default=2, help="processes side by side (2)")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    return parser.parse_args(words)


def opened(path: Path, seed: int | None, pours: int | None) -> tuple[Head, dict[int, Pour]]:
    """Begin the file, or take up one that was begun before.

    Raises
    ------
    UsageError
        Where the file is of another run.
    """
    if not path.exists():
        drawn = secrets.randbelow(SEEDS) if seed is None else seed
        record.begin(path, Head.of_today(drawn, pours or POURS))
    head, done = record.read(path)
    wanted = head.seed if seed is None else seed
    record.check_same(head, Head.of_today(wanted, pours or head.pours), path)
    return head, done


def go_on(path: Path, head: Head, done: dict[int, Pour], given: argparse.Namespace) -> None:
    """Do what is missing, and keep each pour as soon as it is done."""
    missing = islice((seed for seed in head.seeds if seed not in done), given.at_most)
    progress = Console(stderr=True)
    with path.open("a", encoding="utf-8", newline="\n") as file, progress.status("") as line:
        for seed, text in side_by_side(poured, missing, given.jobs):
            died = Pour(seed=seed, seconds=0.0, broken="its process died")
            text = died.line() if text is None else text
            file.write(text + "\n")
            file.flush()
            done[seed] = Pour.from_line(text)
            line.update(f"{len(done)} of {head.pours}")


def summed(head: Head, done: dict[int, Pour]) -> dict[str, Any]:
    """Return what all pours come to, as plain values."""
    pours = [done[seed] for seed in sorted(done)]
    figures = all_figures(pours)
    return {
        "bench": "pours",
        **asdict(head),
        "done": len(pours),
        "seconds_per_pour": sum(p.seconds for p in pours) / len(pours) if pours else None,
        "broken": {str(p.seed): p.broken for p in pours if p.broken},
        "modes": {mode: asdict(found) for mode, found in figures.items()},
        "faults": faults(figures, pours),
    }


def main(words: list[str] | None = None) -> int:
    """Pour, count, judge and print."""
    given = arguments(words)
    aside = Console(stderr=True)
    with tempfile.TemporaryDirectory(prefix="pours-") as folder:
        path = given.out or Path(folder) / "pours.jsonl"
        try:
            head, done = opened(path, given.seed, given.pours)
            aside.print(f"seed {head.seed}: {len(done)} of {head.pours} pours done")
            go_on(path, head, done, given)
        except (ViscountError, OSError) as error:
            aside.print(str(error), style="red", markup=False, soft_wrap=True)
            return ExitStatus.BAD_INPUT
        except KeyboardInterrupt:
            aside.print("interrupted; what is done is kept where --out was given")
            return ExitStatus.INTERRUPTED
    found = summed(head, done)
    if given.json:
        print(json.dumps(found, allow_nan=False))
        for fault in found["faults"]:
            aside.print(fault, style="red", markup=False, soft_wrap=True)
    else:
        console = Console()
        if not console.is_terminal:
            console.width = PRINTED_WIDTH
        console.print(f"{len(done)} of {head.pours} pours from seed {head.seed} on")
        table.show(all_figures(done.values()), console)
        for fault in found["faults"]:
            console.print(fault, style="red", markup=False, soft_wrap=True)
        for seed, what in found["broken"].items():
            console.print(f"{seed}: {what}", style="red", markup=False, soft_wrap=True)
    return 1 if found["faults"] else 0


if __name__ == "__main__":
    sys.exit(main())
