"""The spacing of all pours of several tallies, apart and pooled."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from viscount import fall
from viscount.measure.heights import Height, Place, height_below_line
from viscount.measure.pooled_spacing import (
    Distributions,
    SmallestGap,
    distributions,
    smallest_gap,
)
from viscount.measure.pour_spacing import At, PourSpacing, pour_spacing
from viscount.measure.poured import Pour, pours_of_tally, refuses_times
from viscount.outlet import Outlet
from viscount.tally import Tally
from viscount.values import Status

LEAST_SPEED_SHARE = 0.05
"""A height at which parts would be slower than this share of their speed at the line is none
that they fall from."""
PLACES: tuple[tuple[str, Place], ...] = (("lip", "lip"), ("beam", "beam"), ("blade", "gate"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One tally.

    Attributes
    ----------
    tally, outlet : what was counted, and with which outlet.
    stored : read back from a file.
    pours : how many of its pours are used.
    why : what of it is used, or why nothing, in words; empty where all is well.
    unknown : heights that were asked for and cannot be told here.
    """

    tally: Tally
    outlet: Outlet
    stored: bool
    pours: int
    why: str
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """All pours at one height."""

    distributions: Distributions
    smallest_gap: SmallestGap | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spaced:
    """The answer: each run, each of its pours, and all together, the line first."""

    runs: tuple[Run, ...]
    pours: tuple[PourSpacing, ...]
    pooled: tuple[Pooled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A tally with the outlet that it was made with."""

    tally: Tally
    outlet: Outlet
    stored: bool = False


def spaced(given: Sequence[Given], at_below_lip_mm: Sequence[float] = ()) -> Spaced:
    """Measure the spacing of tallies, at the line and at every other height that is known.

    Parameters
    ----------
    given : the runs. An invalid one is not used, a doubtful one is, with the doubt of each part.
    at_below_lip_mm : further heights.
    """
    runs: list[Run] = []
    measured: list[PourSpacing] = []
    for number, one in enumerate(given):
        pours = () if one.tally.status is Status.INVALID else pours_of_tally(one.tally, one.outlet)
        own: list[PourSpacing] = []
        unknown: set[str] = set()
        part = one.outlet.part
        for pour in pours:
            heights, lip, missing = _heights(one, pour, at_below_lip_mm)
            pitch = None if part is None else part.stack_pitch_mm
            own.append(pour_spacing(pour, heights, run=number, lip=lip, pitch_mm=pitch))
            unknown |= set(missing)
        measured += own
        runs.append(
            Run(
                tally=one.tally,
                outlet=one.outlet,
                stored=one.stored,
                pours=len(own),
                why=_why(one.tally, len(own)),
                unknown=tuple(sorted(unknown)),
            )
        )
    return Spaced(runs=tuple(runs), pours=tuple(measured), pooled=pooled(measured))


def pooled(pours: Sequence[PourSpacing]) -> tuple[Pooled, ...]:
    """Return distributions and smallest gap at each height that any of these pours has."""
    names: dict[tuple[str, float | None], None] = {}
    for pour in pours:
        names.update({_key(one.at): None for one in pour.heights})
    return tuple(
        Pooled(distributions=distributions(own), smallest_gap=smallest_gap(own))
        for name in names
        if (own := [(p, one) for p in pours for one in p.heights if _key(one.at) == name])
    )


def _key(at: At) -> tuple[str, float | None]:
    return (at.name, at.below_lip if at.name == "given" else None)


def _heights(
    given: Given, pour: Pour, at_below_lip_mm: Sequence[float]
) -> tuple[list[At], Height | None, list[str]]:
    """Return the heights of a pour, its lip, and what cannot be told."""
    poured, set_up = pour.poured, given.tally.set_up
    line = Height(below_line=0.0, sigma=0.0, unit=poured.unit)
    if set_up is None:
        return [At(name="line", height=line)], None, []
    found = {name: height_below_line(place, given.outlet, set_up) for name, place in PLACES}
    lip = found["lip"]
    in_mm = lip is not None and lip.unit == "mm"
    made = [At(name="line", height=line, below_lip=-lip.below_line if in_mm and lip else None)]
    missing = []
    for name, height in found.items():
        if height is None:
            continue
        if _reached(pour, height):
            below = height.below_line - lip.below_line if in_mm and lip else None
            made.append(At(name=name, height=height, below_lip=below))
        else:
            missing.append(f"{name}: parts with these speeds do not fall from there")
    for below_mm in dict.fromkeys(at_below_lip_mm):
        asked = f"{below_mm:g} mm below the lip"
        if lip is None or not in_mm:
            missing.append(f"{asked}: view.lip_px and view.scale_px_per_mm are not both known")
            continue
        height = Height(below_line=lip.below_line + below_mm, sigma=lip.sigma, unit="mm")
        if _reached(pour, height):
            made.append(At(name="given", height=height, below_lip=below_mm))
        else:
            missing.append(f"{asked}: parts with these speeds do not fall from there")
    return made, lip, missing


def _reached(pour: Pour, height: Height) -> bool:
    poured = pour.poured
    there = fall.speed_at(poured.speed, poured.acceleration, height.below_line)
    return float(np.median(there)) >= LEAST_SPEED_SHARE * float(np.median(poured.speed))


def _why(tally: Tally, pours: int) -> str:
    reasons = "; ".join(reason.code.meaning for reason in tally.reasons)
    if tally.status is Status.INVALID:
        return f"invalid, nothing of it is used: {reasons}"
    if refuses_times(tally):
        return f"its times are refused, nothing of it is used: {reasons}"
    if not pours:
        if tally.set_up is None:
            return "it does not say how parts fell (no `set_up`): count the recording again"
        return "no part with the fall"
    if tally.status is Status.DOUBTFUL:
        return f"doubtful, its passages are used, each with its own doubt: {reasons}"
    return ""
