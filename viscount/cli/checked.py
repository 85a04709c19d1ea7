"""Running a check for a command: with progress, and with the exit status it ends in."""

import contextlib
import logging
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from viscount.checking.check import check
from viscount.checking.examined import Examined
from viscount.cli.live_counting import counted_live, live_plan
from viscount.cli.progress import Progress
from viscount.cli.screen import OutputError
from viscount.devices.cameras.naming import REPLAY, camera_named
from viscount.errors import ExitStatus
from viscount.hooks.loading import load_plugins
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
    if not _is_camera(source):
        return _checked(Path(source), outlet, settings, shows_progress=shows_progress)
    with tempfile.TemporaryDirectory(prefix="viscount-") as folder:
        plan = live_plan(
            source,
            outlet=outlet,
            settings=settings,
            camera=camera,
            for_s=for_s,
            record=Path(folder) / "clip.mp4",
            lossless=True,
        )
        ended, _ = counted_live(plan, shows_line=shows_progress)
        if ended.clip is None:
            raise OutputError("the camera's pictures could not be recorded", where=folder)
        examined = _checked(Path(ended.clip), outlet, settings, shows_progress=shows_progress)
    return replace(examined, source=source)


def _is_camera(source: str) -> bool:
    """Whether a source is a camera, not a file or a folder that lies ready."""
    if Path(source).exists() and not source.startswith("/dev/"):
        return False
    name, _ = camera_named(source, load_plugins().cameras)
    return name != REPLAY or source.startswith(f"{REPLAY}:")


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
