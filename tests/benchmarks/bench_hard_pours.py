"""Where counts go wrong: pours whose parts the picture does not let be told apart.

    python tests/benchmarks/bench_hard_pours.py [--pours 2000] [--seed S] [--jobs 2]

The pours are drawn as those of bench_pours.py are, and pour k has the seed S + k; but only those
are filmed and counted whose truth calls them separable in one mode at most, about one in four.
Nearly all counts that are clean and wrong are among them, so that they are found in less than half
of the time. It says nothing of how often a count is right.

Each such pour is printed as soon as it is found. Exit status 0 where there is none, 1 where there
is or a pour broke, 130 where the run was interrupted.
"""

import argparse
import secrets
import sys
from collections import Counter
from pathlib import Path

from rich.console import Console

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.accuracy.cases import random_cases
from benchmarks.pours.lanes import side_by_side
from benchmarks.pours.pour import Pour, poured

from viscount.errors import ExitStatus
from viscount.simulate.pour import simulate

POURS = 2000
SEEDS = 2**40
HIDDEN, BROKEN = "a part that no frame shows", "broken"


def poured_if_hard(seed: int) -> str:
    """Return the line of the pour that `seed` draws; an empty one where its parts are separable."""
    (case,) = random_cases(1, seed)
    separable = simulate(case.scene).truth.separable
    return "" if separable.with_outlet and separable.bare else poured(seed)


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pours", type=int, default=POURS, help=f"how many are drawn ({POURS})")
    parser.add_argument("--seed", type=int, help="of the first; drawn afresh where not given")
    parser.add_argument("--jobs", type=int, default=2, help="processes side by side (2)")
    return parser.parse_args(words)


def told(console: Console, seed: int, line: str | None) -> Counter[str]:
    """Print what is wrong with a pour; return how often each outcome came about in it."""
    if line == "":
        return Counter(separable=1)
    pour = Pour(seed=seed, seconds=0.0, broken="died") if line is None else Pour.from_line(line)
    if pour.broken:
        console.print(f"{seed}: {pour.broken}", style="red", markup=False)
        return Counter({BROKEN: 1})
    for one in pour.judged:
        if one.clean_and_wrong and not one.hidden:
            console.print(f"{seed} {one.mode}: {one.count} of {one.true}", style="red")
    return Counter(HIDDEN if one.hidden else f"{one.mode}: {one.outcome}" for one in pour.judged)


def main(words: list[str] | None = None) -> int:
    """Draw, film, count, and print what is clean and wrong."""
    given = arguments(words)
    console = Console()
    seed = secrets.randbelow(SEEDS) if given.seed is None else given.seed
    console.print(f"seed {seed}")
    found: Counter[str] = Counter()
    try:
        for one, line in side_by_side(poured_if_hard, range(seed, seed + given.pours), given.jobs):
            found += told(console, one, line)
    except KeyboardInterrupt:
        return ExitStatus.INTERRUPTED
    finally:
        for outcome, times in sorted(found.items()):
            console.print(f"{times:6} {outcome}")
    wrong = any(outcome.endswith("clean, wrong") for outcome in found)
    return 1 if wrong or found[BROKEN] else 0


if __name__ == "__main__":
    sys.exit(main())
