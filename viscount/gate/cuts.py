"""The plan of the cuts: for every number of parts, when the gate must be told, and how likely an
exact cut is. A plan only: nothing here moves a gate, and none of it is a safety function.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from viscount.codes import Code
from viscount.errors import UsageError
from viscount.gate.limits import trials_to_promise
from viscount.gate.places import Lateness, Places
from viscount.gate.remedies import Remedies, remedies
from viscount.gate.rows import CutRow, Ground, row
from viscount.gate.streams import exactly
from viscount.gate.strokes import Strokes
from viscount.gate.trials import Trials
from viscount.stream import Poured, at_height
from viscount.values import Level, Notice

SEED: Final = 20_000
"""Of the draws, so that the same pours and strokes give the same plan."""
MOST_ROWS: Final = 120
_FINE: Final = 4.0
_SPARSE: Final = 0.125
_RATES: Final = 0.5, 0.9999


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """All cuts of measured pours.

    Attributes
    ----------
    unit : of lengths, "mm" or "px".
    rows : one for each number of parts, rising.
    pours, strokes : how many were measured; no strokes where the gate is not known.
    needed : so many pours, and as many strokes, are the least that can promise the rate.
    remedies : what would help the first row that does not reach the rate, or that of the wanted
        number; None without strokes.
    """

    unit: str
    rate: float
    places: Places
    rows: tuple[CutRow, ...]
    pours: int
    strokes: int
    needed: int
    remedies: Remedies | None
    notices: tuple[Notice, ...]

    @property
    def largest_expected(self) -> int | None:
        """The greatest N whose estimated chance reaches the rate."""
        return max((r.number for r in self.rows if r.expected), default=None)

    @property
    def expected_up_to(self) -> int | None:
        """The N up to which every number that is told reaches the rate, as estimated."""
        found = None
        for own in self.rows:
            if not own.expected:
                break
            found = own.number
        return found

    @property
    def largest_promised(self) -> int | None:
        """The greatest N whose chance reaches the rate even at its lower limit."""
        return max((r.number for r in self.rows if r.promised), default=None)


def plan_cuts(
    pours: Sequence[Poured],
    places: Places,
    strokes: Strokes | None = None,
    *,
    lateness: Lateness | None = None,
    each: int | None = None,
    rate: float = 0.99,
    seed: int = SEED,
) -> CutPlan:
    """Return the plan of the cuts.

    Parameters
    ----------
    pours : one or more that ran freely, in the same unit, each a sample of what comes.
    strokes : None where the gate is not known: the windows alone are then told.
    lateness : of the command; None where it is never late.
    each : the wanted number of parts; None for every number.
    rate : the wanted chance of an exact cut.

    Raises
    ------
    UsageError : too few parts, a number that no pour has, or a rate out of range.
    """
    _require_sense(pours, each, rate)
    lateness = lateness or Lateness()
    ground = Ground(
        pours=pours,
        exact=[exactly(pour, places) for pour in pours],
        choosing=Trials(pours, places, strokes, lateness, seed=seed),
        sparse=Trials(pours, places, strokes, lateness, seed=seed, fine=_SPARSE),
        trials=Trials(pours, places, strokes, lateness, seed=seed + 1, fine=_FINE),
        strokes=strokes,
        lateness=lateness,
        beam_gaps=[at_height(pour, places.beam).gap_s for pour in pours],
    )
    rows = tuple(row(ground, number, rate) for number in _numbers(pours, each))
    found = next((r for r in rows if r.expected is False), rows[-1])
    needed = trials_to_promise(rate)
    return CutPlan(
        unit=pours[0].unit,
        rate=rate,
        places=places,
        rows=rows,
        pours=len(pours),
        strokes=ground.trials.strokes,
        needed=needed,
        remedies=remedies(ground, places, found),
        notices=tuple(_notices(rows, len(pours), ground.trials.strokes, needed, rate)),
    )


def _numbers(pours: Sequence[Poured], each: int | None) -> list[int]:
    if each is not None:
        return [each]
    last = max(len(pour) for pour in pours) - 1
    found: list[int] = np.unique(np.linspace(1, last, min(last, MOST_ROWS)).round()).tolist()
    return [int(number) for number in found]


def _notices(
    rows: Sequence[CutRow], pours: int, strokes: int, needed: int, rate: float
) -> list[Notice]:
    made = []
    doubted = [r for r in rows if r.doubt > 1.0 - rate]
    if doubted:
        first = doubted[0]
        text = (
            f"from N = {first.number} on, the chance that a part before the cut was miscounted is "
            f"{100 * first.doubt:.2g} % or more, where the rate leaves {100 * (1 - rate):.2g} %"
        )
        made.append(Notice(level=Level.DOUBT, code=Code.CUT_PARTS_DOUBTED, text=text))
    joined = [r for r in rows if r.beam_gap_s <= 0]
    if joined:
        text = (
            f"from N = {joined[0].number} on, tails are still in the beam as the next head comes "
            f"({1e3 * joined[0].beam_gap_s:.2f} ms): its board sees no edge to command from"
        )
        made.append(Notice(level=Level.DOUBT, code=Code.CUT_EDGE_HIDDEN, text=text))
    if strokes and min(pours, strokes) < needed:
        text = (
            f"{pours} pour{'s' * (pours != 1)} and {strokes} stroke{'s' * (strokes != 1)}; "
            f"to promise {100 * rate:g} % takes {needed} of each, all cut exactly"
        )
        made.append(Notice(level=Level.INFO, code=Code.CUT_TOO_FEW, text=text))
    return made


def _require_sense(pours: Sequence[Poured], each: int | None, rate: float) -> None:
    most = max((len(pour) for pour in pours), default=0)
    if most < 2:
        raise UsageError(
            "no pour with two parts", allowed="pours of two parts or more: a cut is between two"
        )
    if len({pour.unit for pour in pours}) != 1:
        raise UsageError("pours in mm and in px", remedy="set view.scale_px_per_mm for all of them")
    if each is not None and not 1 <= each < most:
        raise UsageError(
            f"a cut after part {each}, where the longest pour has {most}",
            allowed=f"1 to {most - 1}",
            remedy="measure a pour of more parts, with the gate left open",
        )
    if not _RATES[0] <= rate <= _RATES[1]:
        raise UsageError(f"a rate of {rate:g}", allowed=f"{_RATES[0]:g} to {_RATES[1]:g}")
    for pour in pours:
        if not (np.isfinite(pour.ahead).all() and np.isfinite(pour.behind).all()):
            raise UsageError(
                "parts whose length along the fall is not known",
                remedy="give a part file with along_fall_mm, and view.scale_px_per_mm",
            )
