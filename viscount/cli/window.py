"""Opening the monitor's window beside a run, or for a recording."""

from functools import partial
from pathlib import Path

from viscount.cli.screen import complain
from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import UsageError
from viscount.monitor.model.facts import Facts, needed_by_order, needed_by_strokes
from viscount.monitor.opening import watch
from viscount.monitor.probe import require_window
from viscount.monitor.theme import theme_named
from viscount.session.observer import ObserverMain
from viscount.session.plan import LivePlan
from viscount.session.windows import Windows

STAYS = "the run has ended; its window stays until you close it"


def window_of(plan: LivePlan, theme: str) -> ObserverMain:
    """Return what shows a live run in a window, in a process of its own.

    Raises
    ------
    UsageError : no window can be opened here, or there is no such theme.
    """
    theme_named(theme)
    require_window()
    facts = Facts(
        title=plan.source,
        outlet=plan.outlet,
        expected=plan.expected,
        needed_ms=needed_by_order(plan.pack),
        has_beam=plan.beam_port is not None,
        packs=plan.pack is not None,
    )
    return partial(watch, facts, theme)


def facts_of(source: Path, expected: int | None, strokes: Path | None, beam: Path | None) -> Facts:
    """Return what is known of a recording beforehand.

    Raises
    ------
    ViscountError : the strokes cannot be read.
    """
    measured = None if strokes is None else read_strokes(strokes)
    return Facts(
        title=source.name,
        expected=expected,
        needed_ms=needed_by_strokes(measured),
        has_beam=beam is not None,
    )


def require_speed(speed: float) -> float:
    """Return a speed of playing.

    Raises
    ------
    UsageError : nothing can be played at it.
    """
    if not 0.001 <= speed <= 100.0:
        raise UsageError(
            f"a speed of {speed:g}", where="--speed", allowed="0.001 to 100; 1 is as it happened"
        )
    return speed


def wait_for(windows: Windows) -> None:
    """Wait until the windows of a run are closed."""
    if len(windows):
        complain(STAYS)
    windows.wait()
