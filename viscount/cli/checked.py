"""Running a check for a command: with progress, and with the exit status it ends in."""

import contextlib
import logging
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from viscount.checking.check import check
from viscount.checking.examined import Examined
from viscount.cli.progress import Progress
from viscount.cli.recorded import recorded
from viscount.errors import ExitStatus
from viscount.values import Status

_log = logging.getLogger("viscount.cli")


def checked(
    source: str,
    *,
    outlet: Path | None,
    settings: Sequence[str],
    camera: Sequence[str] = (),
    for_s: float = 5.0,
    shows_progress: bool,
) -> Examined:
    """Check a recording, or a camera, which is recorded first.

    What a plugin prints meanwhile goes to standard error: standard output is for the answer.
    """
    _log.info("checking %s", source)
    with recorded(
        source,
        outlet=outlet,
        settings=settings,
        camera=camera,
        for_s=for_s,
        shows_line=shows_progress,
    ) as clip:
        examined = _checked(clip, outlet, settings, shows_progress=shows_progress)
    return replace(examined, source=source) if clip != Path(source) else examined


def _checked(
    source: Path, outlet: Path | None, settings: Sequence[str], *, shows_progress: bool
) -> Examined:
    with contextlib.ExitStack() as stack:
        progress = None
        if shows_progress and sys.stderr.isatty():
            progress = stack.enter_context(Progress(source.name))
        stack.enter_context(contextlib.redirect_stdout(sys.stderr))
        examined = check(source, outlet=outlet, settings=settings, watcher=progress)
    _log.info("%d frames: %s", examined.clock.read, examined.summary)
    return examined


def check_status(examined: Examined) -> ExitStatus:
    """Return the exit status that stands for it."""
    return {
        Status.CLEAN: ExitStatus.CLEAN,
        Status.DOUBTFUL: ExitStatus.DOUBTFUL,
        Status.INVALID: ExitStatus.INVALID,
    }[examined.status]
