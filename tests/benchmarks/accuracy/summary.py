"""What all scenes come to: how often right, how surely, and whether doubts are honest."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from benchmarks.accuracy.judging import Judgement
from scipy.stats import binomtest

from viscount.values import Status

CONFIDENCE: Final = 0.95
DOUBT_BINS: Final = (0.0, 0.001, 0.01, 0.1, 0.3, 1.0)

GROUPS: Final[dict[str, Callable[[Judgement], bool]]] = {
    "separable": lambda j: j.separable,
    "not separable": lambda j: not j.separable and not j.hidden,
    "a part fully hidden": lambda j: not j.separable and bool(j.hidden),
}
OUTCOMES: Final = ("clean, exact", "clean, wrong", "doubtful", "invalid")


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many, with exact limits (Clopper and Pearson) at 95 % confidence.

    `limits` hold the true share between them; `upper` alone bounds it from above. For none of n
    `upper` is 1 - 0.05^(1/n), the rule of three: about 3/n.
    """

    number: int
    of: int
    limits: tuple[float, float] | None
    upper: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtBin:
    """Passages whose stated doubt lies in [low, high), and how many of them were wrong."""

    low: float
    high: float
    passages: int
    mean_doubt: float
    wrong: Share


def share(number: int, of: int) -> Share:
    """Return a share with its limits; None where there is nothing to share."""
    if not of:
        return Share(number=number, of=of, limits=None, upper=None)
    both = binomtest(number, of).proportion_ci(CONFIDENCE, method="exact")
    below = binomtest(number, of, alternative="less").proportion_ci(CONFIDENCE, method="exact")
    return Share(
        number=number,
        of=of,
        limits=(float(both.low), float(both.high)),
        upper=float(below.high),
    )


def outcomes(judged: Sequence[Judgement]) -> dict[str, dict[str, Share]]:
    """Return for each group of scenes how often each outcome came about."""
    found = {}
    for name, belongs in GROUPS.items():
        group = [j for j in judged if belongs(j)]
        if group:
            found[name] = {
                outcome: share(sum(j.outcome == outcome for j in group), len(group))
                for outcome in OUTCOMES
            }
    return found


def held(judged: Sequence[Judgement]) -> dict[str, Share]:
    """Return for each status how often the stated range did not hold the truth."""
    found = {}
    for status in Status:
        group = [j for j in judged if j.status is status]
        outside = sum(not j.low <= j.true <= j.high for j in group)
        if group:
            found[status.value] = share(outside, len(group))
    return found


def doubts(judged: Sequence[Judgement], edges: Sequence[float] = DOUBT_BINS) -> list[DoubtBin]:
    """Sort passages by their doubt; an honest one is wrong as often as it says."""
    stated = np.array([d for j in judged for d in j.doubts], dtype=float).reshape(-1, 2)
    found = []
    for low, high in pairwise(edges):
        last = high == edges[-1]
        inside = stated[(stated[:, 0] >= low) & ((stated[:, 0] < high) | last)]
        found.append(
            DoubtBin(
                low=low,
                high=high,
                passages=len(inside),
                mean_doubt=float(inside[:, 0].mean()) if len(inside) else 0.0,
                wrong=share(int(inside[:, 1].sum()), len(inside)),
            )
        )
    return found


def rivals_exact(judged: Sequence[Judgement]) -> dict[str, dict[str, Share]]:
    """Return for each group how often each rival's bare number is the true one."""
    found: dict[str, dict[str, Share]] = {}
    for name, belongs in GROUPS.items():
        group = [j for j in judged if belongs(j)]
        if group:
            ours = {"viscount": share(sum(j.exact for j in group), len(group))}
            found[name] = ours | {
                rival: share(sum(j.rivals[rival] == j.true for j in group), len(group))
                for rival in group[0].rivals
            }
    return found


def as_json(judged: Sequence[Judgement]) -> dict[str, Any]:
    """Return the whole summary as plain values, by mode."""
    found: dict[str, Any] = {}
    for mode in dict.fromkeys(j.mode for j in judged):
        group = [j for j in judged if j.mode == mode]
        found[mode] = {
            "outcomes": _plain(outcomes(group)),
            "exact": _plain(rivals_exact(group)),
            "outside_range": _plain(held(group)),
            "doubts": [asdict(b) for b in doubts(group)],
        }
    return found


def _plain(found: Any) -> Any:
    if isinstance(found, dict):
        return {key: _plain(value) for key, value in found.items()}
    return asdict(found)
