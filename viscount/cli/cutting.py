"""Running the plan of a cut for a command: recordings are counted first, tallies read back."""

import contextlib
import math
import sys
from collections.abc import Sequence
from pathlib import Path

from viscount.cli.counting import counted
from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import UsageError
from viscount.gate.places import Lateness
from viscount.offline.cutting import Planned, plan_cut
from viscount.outlet import load_outlet, load_part
from viscount.report.tally_reading import read_tally
from viscount.tally import Tally

_LATEST_MS = 60_000.0


def planned_cut(
    sources: Sequence[Path],
    *,
    outlet: Path,
    part: Path | None,
    strokes: Path | None,
    settings: Sequence[str],
    lateness: Lateness,
    each: int | None,
    rate: float,
    shows_progress: bool,
) -> Planned:
    """Return the plan of the cuts.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read, or carries no plan.
    """
    # Before any counting, which may take minutes: files that cannot be read.
    load_outlet(outlet)
    if part is not None:
        load_part(part)
    if strokes is not None:
        read_strokes(strokes)
    tallies = [
        _tally(source, outlet, part, settings, shows_progress=shows_progress) for source in sources
    ]
    with contextlib.redirect_stdout(sys.stderr):
        return plan_cut(
            tallies,
            outlet=outlet,
            part=part,
            strokes=strokes,
            settings=settings,
            lateness=lateness,
            each=each,
            rate=rate,
        )


def lateness_of(late_ms: tuple[float, float] | None, tick_us: float, jitter_ms: float) -> Lateness:
    """Return how late commands are.

    Raises
    ------
    UsageError : a number that makes no sense.
    """
    least, most = late_ms or (0.0, 0.0)
    for option, value in (
        ("--late-ms", least),
        ("--late-ms", most),
        ("--tick-us", tick_us * 1e-3),
        ("--jitter-ms", jitter_ms),
    ):
        if not (math.isfinite(value) and 0.0 <= value <= _LATEST_MS):
            raise UsageError(f"{value:g} ms", where=option, allowed=f"0 to {_LATEST_MS:g} ms")
    if least > most:
        raise UsageError(
            f"{least:g} {most:g}", where="--late-ms", allowed="the least, then the most"
        )
    return Lateness(
        least_s=least * 1e-3,
        most_s=most * 1e-3,
        tick_s=tick_us * 1e-6,
        jitter_s=jitter_ms * 1e-3,
    )


def _tally(
    source: Path,
    outlet: Path,
    part: Path | None,
    settings: Sequence[str],
    *,
    shows_progress: bool,
) -> Tally:
    if source.suffix.lower() == ".json":
        return read_tally(source)
    tally, _ = counted(
        source,
        outlet=outlet,
        part=part,
        settings=settings,
        shows_progress=shows_progress,
        with_strip=False,
    )
    return tally
