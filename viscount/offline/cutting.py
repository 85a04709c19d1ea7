"""The plan of a cut from counted pours, an outlet file and the measured strokes of a gate."""

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from viscount._version import __version__
from viscount.codes import Code
from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import ExitStatus, SourceError, UsageError, ViscountError
from viscount.gate.cuts import CutPlan, plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.gate.strokes import Strokes
from viscount.measure.heights import Height, Place, height_below_line
from viscount.measure.poured import poured
from viscount.offline.outlets import given_outlet, outlet_of_tally
from viscount.outlet import Outlet, Part
from viscount.stream import Poured
from viscount.tally import FileMark, SetUp, Tally
from viscount.values import Level, Notice, Status

_ALIKE: Final = 0.01


class NoPlanError(ViscountError):
    """A count that no plan can rest on."""

    exit_status = ExitStatus.INVALID


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """One count that a plan rests on: of what, its status, and how many of its pours served."""

    source: str
    status: Status
    pours: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan of cuts, with what it was worked out from."""

    made_by: str
    outlet: FileMark | None
    part: FileMark | None
    strokes_file: FileMark | None
    strokes: Strokes | None
    lateness: Lateness
    counts: tuple[Counted, ...]
    plan: CutPlan
    notices: tuple[Notice, ...]

    @property
    def status(self) -> Status:
        """Doubtful where a count or one of its parts is."""
        doubt = any(notice.level is Level.DOUBT for notice in self.notices)
        return Status.DOUBTFUL if doubt else Status.CLEAN


def plan_cut(
    tallies: Sequence[Tally],
    *,
    outlet: str | Path | Outlet,
    part: str | Path | Part | None = None,
    strokes: str | Path | None = None,
    settings: Sequence[str] = (),
    lateness: Lateness | None = None,
    each: int | None = None,
    rate: float = 0.99,
) -> Planned:
    """Plan the cut of pours that were counted with the gate left open.

    Parameters
    ----------
    tallies : one or more, from runs or read back.
    outlet : says where beam and blade stand; `part` stands over its own, and over that which a
        tally names. Settings that a count was made with hold here too.
    strokes : the file of the gate's measured strokes; None tells the windows alone.
    settings : ``key=value`` texts that stand over the outlet file.
    lateness, each, rate : see `viscount.gate.cuts.plan_cuts`.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read, or carries no plan.
    """
    _, outlet_mark, part_mark = given_outlet(outlet, part, settings)
    gate = None if strokes is None else read_strokes(strokes)
    lateness = lateness or Lateness()
    counts, pours, places = [], [], None
    for tally in tallies:
        loaded, _, _ = outlet_of_tally(tally, outlet, part, settings)
        own, stand = _pours(tally, loaded), _places(tally, loaded)
        if places is not None and not _alike(stand, places):
            raise UsageError(
                "counts whose line or scale differ",
                where=tally.source,
                remedy="count all of them with the same outlet file",
            )
        counts.append(Counted(source=tally.source, status=tally.status, pours=len(own)))
        pours += own
        places = places or stand
    if places is None:
        raise UsageError("no pour to plan from", allowed="one or more recordings or tallies")
    plan = plan_cuts(pours, places, gate, lateness=lateness, each=each, rate=rate)
    return Planned(
        made_by=f"viscount {__version__}",
        outlet=outlet_mark,
        part=part_mark,
        strokes_file=None if strokes is None else _mark(Path(strokes)),
        strokes=gate,
        lateness=lateness,
        counts=tuple(counts),
        plan=plan,
        notices=(*_doubted(tallies), *plan.notices),
    )


def _pours(tally: Tally, outlet: Outlet) -> list[Poured]:
    if tally.set_up is None:
        raise SourceError(
            "a tally without `set_up`, which says where the line was",
            where=tally.source,
            remedy="count the recording again with this version",
        )
    if tally.status is Status.INVALID:
        raise NoPlanError(
            "the count is invalid, and nothing can be planned on it",
            where=tally.source,
            remedy="see its reasons with `viscount count`, and record the pour again",
        )
    found = [pour for pour in poured(tally, outlet) if len(pour) > 1]
    if not found:
        raise NoPlanError(
            "no pour of two parts or more whose times can be used",
            where=tally.source,
            remedy="see its reasons with `viscount count`",
        )
    return found


def _places(tally: Tally, outlet: Outlet) -> Places:
    assert tally.set_up is not None
    set_up = tally.set_up
    beam, blade = _height("beam", outlet, set_up), _height("gate", outlet, set_up)
    lip = height_below_line("lip", outlet, set_up)
    return Places(
        beam=beam.below_line,
        blade=blade.below_line,
        sigma_beam=beam.sigma,
        sigma_blade=blade.sigma,
        lip=None if lip is None else lip.below_line,
    )


def _alike(one: Places, other: Places) -> bool:
    """Whether two counts have beam and blade at the same height below their lines."""
    return all(
        math.isclose(getattr(one, name), getattr(other, name), abs_tol=_ALIKE)
        for name in ("beam", "blade")
    )


def _height(place: Place, outlet: Outlet, set_up: SetUp) -> Height:
    found = height_below_line(place, outlet, set_up)
    if found is None:
        raise UsageError(
            f"the height of the {'blade' if place == 'gate' else place} is not known",
            where=f"{place}.below_lip_mm",
            allowed=f"{place}.at_px; or {place}.below_lip_mm with view.lip_px and "
            "view.scale_px_per_mm",
            remedy="set it in the outlet file",
        )
    return found


def _doubted(tallies: Sequence[Tally]) -> list[Notice]:
    made = []
    for tally in tallies:
        if tally.status is Status.DOUBTFUL:
            reasons = ", ".join(reason.code.value for reason in tally.reasons)
            text = f"the count is doubtful ({reasons})"
            made.append(
                Notice(
                    level=Level.DOUBT,
                    code=Code.CUT_COUNT_DOUBTFUL,
                    text=text,
                    where=tally.source,
                )
            )
    return made


def _mark(path: Path) -> FileMark:
    return FileMark(name=str(path), sha256=hashlib.sha256(path.read_bytes()).hexdigest())
