"""Counting or reading what ``viscount spacing`` is to measure."""

import contextlib
import sys
from collections.abc import Sequence
from pathlib import Path

from viscount.cli.counting import counted
from viscount.errors import ExitStatus, UsageError
from viscount.measure.spaced import Given, Spaced, spaced
from viscount.offline.outlets import given_outlet, outlet_of_tally
from viscount.report.tally_reading import read_tally
from viscount.values import Status


def measured(
    sources: Sequence[Path],
    *,
    outlet: Path | None,
    part: Path | None,
    settings: Sequence[str],
    quiet_s: float,
    at_mm: Sequence[float],
    shows_progress: bool,
) -> Spaced:
    """Return the spacing of clips, which are counted, and of stored tallies.

    Raises
    ------
    viscount.errors.ViscountError : for what cannot be read; UsageError where a height that was
        asked for can be told in no run.
    """
    _require_finite(at_mm)
    given = []
    for source in sources:
        if source.suffix.lower() == ".json":
            tally = read_tally(source)
            loaded, _, _ = outlet_of_tally(tally, outlet, part, settings)
            given.append(Given(tally=tally, outlet=loaded, stored=True))
            continue
        loaded, _, _ = given_outlet(outlet, part, settings)
        tally, _ = counted(
            source,
            outlet=outlet,
            part=part,
            settings=settings,
            quiet_s=quiet_s,
            shows_progress=shows_progress,
            with_strip=False,
        )
        given.append(Given(tally=tally, outlet=loaded))
    with contextlib.redirect_stdout(sys.stderr):
        return spaced(given, at_mm)


def status_of_spacing(found: Spaced) -> ExitStatus:
    """Return the exit status: that of the worst run that is used; invalid where none is."""
    if not found.pours:
        return ExitStatus.INVALID
    if any(run.tally.status is not Status.CLEAN or not run.pours for run in found.runs):
        return ExitStatus.DOUBTFUL
    return ExitStatus.CLEAN


def _require_finite(at_mm: Sequence[float]) -> None:
    for one in at_mm:
        if not -10_000.0 <= one <= 10_000.0:
            raise UsageError(
                f"a height of {one:g} mm", where="--at", allowed="-10000 to 10000 mm below the lip"
            )
