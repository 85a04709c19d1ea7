"""What many pours come to, mode by mode, and whether that is good enough."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

from benchmarks.accuracy import summary
from benchmarks.accuracy.cases import MODES, Mode
from benchmarks.accuracy.judging import Judgement
from benchmarks.accuracy.summary import GROUPS, DoubtBin, Share
from benchmarks.pours.pour import Pour

from viscount.values import Status

LEAST_CLEAN_PERCENT: Final = 97
"""Of separable pours at least so many must be clean and exact."""
DOUBT_BINS: Final = (0.0, 0.01, 0.03, 0.1, 0.3, 1.0)
DOUBTFUL_SHOWN: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeFigures:
    """All pours in one mode.

    Attributes
    ----------
    outcomes : by group of pours, how often each outcome came about.
    right : by group, how often the number was the true one, whatever the status.
    reasons : why separable pours were not clean, the commonest first.
    clean_wrong : by group, the seeds of the pours that were clean and wrong.
    doubtful : the seeds of the first doubtful pours among the separable ones.
    in_range : of pours that are not invalid, how often the stated range held the truth.
    doubts : the passages of those pours, by stated doubt.
    """

    outcomes: dict[str, dict[str, Share]]
    right: dict[str, Share]
    reasons: dict[str, int]
    clean_wrong: dict[str, list[int]]
    doubtful: list[int]
    in_range: Share
    doubts: list[DoubtBin]

    def separable(self, outcome: str) -> Share:
        """Return how often separable pours had this outcome."""
        return self.outcomes.get("separable", {}).get(outcome, summary.share(0, 0))


def mode_figures(pours: Iterable[Pour], mode: Mode) -> ModeFigures:
    """Add up the pours in one mode, whatever the order in which they come."""
    judged = {
        pour.seed: one
        for pour in sorted(pours, key=lambda pour: pour.seed)
        for one in pour.judged
        if one.mode == mode
    }
    everything = list(judged.values())
    separable = {seed: one for seed, one in judged.items() if one.separable}
    counted = [one for one in everything if one.status is not Status.INVALID]
    doubtful = (seed for seed, one in separable.items() if one.status is Status.DOUBTFUL)
    return ModeFigures(
        outcomes=summary.outcomes(everything),
        right={name: of["viscount"] for name, of in summary.rivals_exact(everything).items()},
        reasons=_reasons(list(separable.values())),
        clean_wrong={
            name: [seed for seed, one in judged.items() if belongs(one) and one.clean_and_wrong]
            for name, belongs in GROUPS.items()
        },
        doubtful=list(islice(doubtful, DOUBTFUL_SHOWN)),
        in_range=summary.share(sum(j.low <= j.true <= j.high for j in counted), len(counted)),
        doubts=summary.doubts(counted, DOUBT_BINS),
    )


def all_figures(pours: Iterable[Pour]) -> dict[Mode, ModeFigures]:
    """Add up the pours in every mode."""
    kept = list(pours)
    return {mode: mode_figures(kept, mode) for mode in MODES}


def faults(figures: dict[Mode, ModeFigures], pours: Iterable[Pour]) -> list[str]:
    """Say what is not good enough; nothing where all is."""
    broken = sorted(pour.seed for pour in pours if pour.broken)
    found = [f"{len(broken)} broke: seeds {_listed(broken)}"] if broken else []
    for mode, of_mode in figures.items():
        exact = of_mode.separable("clean, exact")
        wrong = of_mode.clean_wrong["separable"]
        if wrong:
            found.append(f"{mode}: {len(wrong)} separable, clean and wrong: seeds {_listed(wrong)}")
        if not exact.of:
            found.append(f"{mode}: no separable pour, so nothing is shown")
        elif 100 * exact.number < LEAST_CLEAN_PERCENT * exact.of:
            found.append(
                f"{mode}: of {exact.of} separable {exact.number} clean and exact, "
                f"{exact.number / exact.of:.2%}; at least {LEAST_CLEAN_PERCENT} % must be"
            )
    return found


def _reasons(judged: Sequence[Judgement]) -> dict[str, int]:
    met = Counter(
        reason for one in judged if one.status is not Status.CLEAN for reason in set(one.reasons)
    )
    return dict(sorted(met.items(), key=lambda item: (-item[1], item[0])))


def _listed(seeds: Sequence[int]) -> str:
    return ", ".join(str(seed) for seed in seeds)
