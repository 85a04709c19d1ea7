"""The run of ``viscount live``: from its options to its end, with a running line meanwhile."""

import atexit
import logging
import math
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

from viscount.cli.running_line import RunningLine
from viscount.cli.screen import complain
from viscount.devices.beams.port import identity_in
from viscount.errors import UsageError, ViscountError
from viscount.outlet import Outlet, marked_outlet, marked_part, outlet_with
from viscount.session.live_run import LiveRun
from viscount.session.messages import Ended, Snapshot, Told
from viscount.session.observer import ObserverMain
from viscount.session.plan import LivePlan
from viscount.session.windows import Windows

LOOKS_EVERY_S = 0.1
_log = logging.getLogger("viscount.cli")


def live_plan(
    source: str,
    *,
    outlet: Path | None = None,
    part: Path | None = None,
    settings: Sequence[str] = (),
    camera: Sequence[str] = (),
    expected: int | None = None,
    quiet_s: float = 1.0,
    for_s: float | None = None,
    beam_port: str | None = None,
    beam_speed: int = 115_200,
    record: Path | None = None,
    lossless: bool = False,
) -> LivePlan:
    """Return the plan that the options ask for.

    Raises
    ------
    ViscountError : one of them cannot be used.
    """
    for name, value in (("--quiet", quiet_s), ("--for", for_s)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise UsageError(f"a time of {value:g} s", where=name, allowed="more than 0 s")
    if expected is not None and expected < 0:
        raise UsageError(f"an expected count of {expected}", allowed="0 or more")
    if beam_port is not None:
        # Before any process is started: a name that cannot be one.
        identity_in(beam_port)
    loaded, outlet_mark = marked_outlet(outlet)
    loaded, given = outlet_with(loaded, settings)
    own_part, part_mark = marked_part(part)
    if own_part is not None:
        loaded = loaded.model_copy(update={"part": own_part})
    clip = log = None
    if record is not None:
        clip, log = recorded_as(record)
    return LivePlan(
        source=source,
        options=_options(camera),
        outlet=loaded,
        outlet_mark=outlet_mark,
        part_mark=part_mark,
        given=given,
        expected=expected,
        quiet_s=quiet_s,
        for_s=for_s,
        beam_port=beam_port,
        beam_speed=beam_speed,
        clip=clip,
        beam_log=log if beam_port is not None else None,
        lossless=lossless,
    )


def recorded_as(record: Path) -> tuple[Path, Path]:
    """Return the files of a recording: clip and beam log.

    Raises
    ------
    UsageError : they cannot be written there, or one is there already.
    """
    where = f"--record {record}"
    if record.suffix.lower() == ".mp4":
        clip, log = record, record.with_suffix(".csv")
        if not record.parent.is_dir():
            raise UsageError("the folder is missing", where=where, remedy=f"create {record.parent}")
    elif record.suffix and not record.is_dir():
        raise UsageError(
            f"a recording named {record.name}", where=where, allowed="a folder, or a name in .mp4"
        )
    else:
        try:
            record.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UsageError(
                f"the folder cannot be created ({error.strerror})", where=where
            ) from error
        clip, log = record / "clip.mp4", record / "beam.csv"
    for path in (clip, log):
        if path.exists():
            raise UsageError(
                f"{path.name} is there already",
                where=where,
                remedy="name another place: a recording is never written over",
            )
    return clip, log


def counted_live(
    plan: LivePlan, *, shows_line: bool, shown: Sequence[ObserverMain] = ()
) -> tuple[Ended, Windows]:
    """Run a plan to its end; Ctrl-C and SIGTERM end it early, as a run.

    `shown` are windows beside it; they are returned as they are by then.

    Raises
    ------
    ViscountError : the run could not go on.
    KeyboardInterrupt : Ctrl-C came twice.
    """
    _log.info("counting %s", plan.source)
    shows_line = shows_line and sys.stderr.isatty()
    with (
        LiveRun(plan, shown=shown) as run,
        windows_left(run),
        stopping(run),
        RunningLine(shown=shows_line) as line,
    ):
        while not run.ended():
            for value in run.values(LOOKS_EVERY_S):
                if isinstance(value, Snapshot):
                    line.show(value)
                elif isinstance(value, Told):
                    line.tell(value.notice)
        return run.result(), run.windows


@contextmanager
def windows_left(run: LiveRun) -> Iterator[None]:
    """Where a run breaks off, have its windows say so: the program ends when they are closed.

    Where it never began they are closed at once.
    """
    try:
        yield
    except ViscountError:
        if run.began:
            # After the error has been printed, and before children are waited for anyway.
            atexit.register(run.windows.wait)
        else:
            run.windows.end()
        raise
    except BaseException:
        run.windows.end()
        raise


@contextmanager
def stopping(run: LiveRun) -> Iterator[None]:
    """Have the first Ctrl-C or SIGTERM end the run, and a second one end the program."""
    asked = False

    def stop(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        complain("ending the run; once more to give it up")
        run.stop()

    before = _handled({signal.SIGINT: stop, signal.SIGTERM: stop})
    try:
        yield
    finally:
        _handled(before)


def _handled(handlers: Mapping[signal.Signals, Any]) -> dict[signal.Signals, Any]:
    """Set signal handlers; return those before. In another thread than the main one, none."""
    try:
        return {number: signal.signal(number, one) for number, one in handlers.items()}
    except ValueError:
        return {}


def _options(settings: Sequence[str]) -> dict[str, Any]:
    """Return a camera's options from ``key=value`` texts, values read as in an outlet file."""
    if not settings:
        return {}
    outlet, _ = outlet_with(Outlet(), [f"detector.options.{text}" for text in settings])
    return dict(outlet.detector.options or {})
