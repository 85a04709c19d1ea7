"""From a recording to what is played: counted by the ordinary way, watched meanwhile."""

from collections.abc import Callable
from pathlib import Path

from viscount.devices.cameras.watcher import Watcher
from viscount.monitor.model.facts import Facts
from viscount.monitor.model.playback import Playback
from viscount.monitor.model.scenery import Scenery
from viscount.monitor.model.strip import Strip
from viscount.monitor.reel import FileReel
from viscount.motion.prior import geometry_of
from viscount.outlet import Outlet
from viscount.session.beginning import place_px
from viscount.tally import SetUp, Tally
from viscount.values import Frame

STRIP_BYTES = 96 << 20
Count = Callable[[Watcher], Tally]
"""Counts a recording while a watcher looks on."""


class Watching:
    """Keeps what the strip needs of each frame of a recording that is being counted."""

    def __init__(self) -> None:
        self.times_s: list[float] = []
        self.strip: Strip | None = None
        self.outlet = Outlet()
        self.scenery: Scenery | None = None

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Hear what is counted."""
        self.outlet = outlet

    def frame(self, frame: Frame) -> None:
        """Copy what the frame shows about the line."""
        if self.strip is None:
            geometry = geometry_of(self.outlet, *frame.pixels.shape)
            self.scenery = Scenery(
                shape=geometry.picture, falls=geometry.falls, line_px=geometry.line_px
            )
            self.strip = Strip(self.scenery, STRIP_BYTES)
        self.times_s.append(1e-9 * frame.t_ns)
        self.strip.add(1e-9 * frame.t_ns, frame.pixels)


def played(path: Path, facts: Facts, count: Count) -> Playback:
    """Count a recording; return it ready to be played from its first frame.

    Raises
    ------
    viscount.errors.ViscountError : as for counting.
    """
    watching = Watching()
    tally = count(watching)
    assert watching.strip is not None
    assert watching.scenery is not None
    reel = FileReel(path, capture_fps=watching.outlet.camera.capture_fps)
    scenery = _placed(watching.scenery, watching.outlet, tally.set_up)
    return Playback(facts, tally, scenery, watching.times_s, watching.strip, reel)


def _placed(scenery: Scenery, outlet: Outlet, set_up: SetUp | None) -> Scenery:
    if set_up is None:
        return scenery
    return Scenery(
        shape=scenery.shape,
        falls=scenery.falls,
        line_px=scenery.line_px,
        beam_px=place_px("beam", outlet, set_up),
        blade_px=place_px("gate", outlet, set_up),
    )
