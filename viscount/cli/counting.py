"""Running a count for a command: with progress, with a strip, and with a clean answer."""

import contextlib
import logging
import sys
from collections.abc import Sequence
from pathlib import Path

from viscount.cli.progress import Progress, Together
from viscount.clock import SystemClock
from viscount.devices.cameras.watcher import Watcher
from viscount.errors import UsageError
from viscount.offline import count as offline_count
from viscount.report.strip import LineStrip
from viscount.tally import Tally

_log = logging.getLogger("viscount.cli")


def counted(
    source: Path,
    *,
    outlet: Path | None,
    part: Path | None = None,
    expected: int | None = None,
    settings: Sequence[str] = (),
    quiet_s: float = 1.0,
    shows_progress: bool,
    with_strip: bool,
    beam: Path | None = None,
    beam_total: int | None = None,
    hand_count: int | None = None,
    gate_log: Path | None = None,
    strokes: Path | None = None,
    held: int | None = None,
    watched: Sequence[Watcher] = (),
) -> tuple[Tally, LineStrip | None]:
    """Count a recording; return its tally, and the strip that watched if one was wanted.

    `watched` look at each frame as well.

    What a plugin prints meanwhile goes to standard error: standard output is for the answer.
    """
    strip = LineStrip() if with_strip else None
    clock = SystemClock()
    begun = clock.now_ns()
    _log.info("counting %s", source)
    with contextlib.ExitStack() as stack:
        watchers: list[Watcher] = [*watched] if strip is None else [strip, *watched]
        if shows_progress and sys.stderr.isatty():
            watchers.append(stack.enter_context(Progress(source.name)))
        stack.enter_context(contextlib.redirect_stdout(sys.stderr))
        tally = offline_count(
            source,
            outlet=outlet,
            part=part,
            expected=expected,
            settings=settings,
            quiet_s=quiet_s,
            watcher=Together(watchers) if watchers else None,
            beam=beam,
            beam_total=beam_total,
            hand_count=hand_count,
            gate_log=gate_log,
            strokes=strokes,
            held=held,
        )
    seconds = (clock.now_ns() - begun) * 1e-9
    _log.info("%d frames in %.2f s: %s", tally.frames.read, seconds, tally.status.value)
    return tally, strip


def require_strip_place(strip: Path, source: Path) -> None:
    """Refuse, before any counting, a strip that could not be written or would do harm.

    Raises
    ------
    UsageError
    """
    where = f"--strip {strip}"
    if strip.suffix.lower() != ".png":
        raise UsageError("a strip is a PNG picture", where=where, allowed="a name ending in .png")
    if not strip.parent.is_dir():
        raise UsageError(
            f"there is no folder {strip.parent}", where=where, allowed="a folder that exists"
        )
    if strip.is_dir():
        raise UsageError("a folder, not a file", where=where)
    here = strip.resolve()
    if here in (source.resolve(), source.resolve() / strip.name):
        raise UsageError(
            "the strip would lie among the pictures that are counted",
            where=where,
            remedy="write it somewhere else",
        )
