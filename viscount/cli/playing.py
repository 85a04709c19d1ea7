"""From a recording to what is played in a window."""

from collections.abc import Sequence
from pathlib import Path

from viscount.cli.counting import counted
from viscount.cli.window import facts_of, require_speed
from viscount.devices.cameras.watcher import Watcher
from viscount.monitor.model.playback import Playback
from viscount.monitor.probe import require_window
from viscount.monitor.recording import played
from viscount.monitor.theme import theme_named
from viscount.tally import Tally


def played_recording(
    source: Path,
    *,
    outlet: Path | None,
    part: Path | None,
    beam: Path | None,
    strokes: Path | None,
    expected: int | None,
    speed: float,
    theme: str,
    settings: Sequence[str],
    quiet_s: float,
) -> Playback:
    """Count a recording, and return it ready to be played.

    Raises
    ------
    ViscountError : it cannot be counted, or no window can be opened here.
    """
    require_speed(speed)
    theme_named(theme)
    facts = facts_of(source, expected, strokes, beam)
    # Before the count, which may take minutes.
    require_window()

    def count(watcher: Watcher) -> Tally:
        tally, _ = counted(
            source,
            outlet=outlet,
            part=part,
            expected=expected,
            settings=settings,
            quiet_s=quiet_s,
            shows_progress=True,
            with_strip=False,
            beam=beam,
            watched=(watcher,),
        )
        return tally

    model = played(source, facts, count)
    model.speed = speed
    return model
