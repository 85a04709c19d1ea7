"""Reach and shut measured with the camera: a clip and the gate's log in, strokes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.lamp_light import LampLight
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.source import open_source
from viscount.devices.triggers.gate_log import GateLog, read_gate_log
from viscount.errors import ExitStatus, UsageError, ViscountError
from viscount.gate.board_clock import BoardClock
from viscount.gate.coil_lamp import Settled, by_lamp_alone, off_the_board, on_capture_clock
from viscount.gate.commands import Commands
from viscount.gate.filmed import FilmedStroke, strokes_of
from viscount.measure.blade_share import BladeBox
from viscount.motion.prior import geometry_of
from viscount.offline.bags import on_capture
from viscount.offline.outlets import given_outlet
from viscount.outlet import Outlet
from viscount.pipeline import PRIMING_FRAMES
from viscount.values import Frame

Floats = NDArray[np.float64]
Box = tuple[int, int, int, int]

WITHIN_MS: Final = 0.5
"""A stroke that is known less well (one sigma) is of little use for a cut."""
_REST_S: Final = 0.05
_REST_SHARE: Final = 0.3
"""Before a command the gate has been at rest for so long, or this share of the time since the last
command where that is less."""


class UselessStrokesError(ViscountError):
    """A clip that shows no stroke well enough."""

    exit_status = ExitStatus.INVALID


@dataclass(frozen=True, slots=True, kw_only=True)
class Filmed:
    """What a clip shows of a gate.

    Attributes
    ----------
    source, log : the clip and the log; no log where the lamp alone told the commands.
    settled : what a lamp wired to the coil said of the commands; None without one.
    strokes : every command's, in order; those that are too unsure have `why`.
    rate_hz : frames a second.
    within_s : what a stroke's uncertainty may be at most.
    """

    source: str
    log: str | None
    settled: Settled | None
    strokes: tuple[FilmedStroke, ...]
    rate_hz: float
    within_s: float

    @property
    def used(self) -> tuple[FilmedStroke, ...]:
        """The strokes that can be used."""
        return tuple(one for one in self.strokes if not one.why)


def filmed_strokes(
    source: str | Path,
    *,
    box: Box,
    gate_log: str | Path | None = None,
    lamp: Box | None = None,
    clock: BoardClock | None = None,
    outlet: str | Path | Outlet | None = None,
    settings: Sequence[str] = (),
    within_ms: float = WITHIN_MS,
    stream_px: tuple[float, float] | None = None,
) -> Filmed:
    """Measure every stroke of a gate whose blade is in view.

    Parameters
    ----------
    box : (x0, y0, x1, y1), half-open: where the stream passes the blade, and nothing else moves.
    gate_log : the commands, on the capture clock; or on the board's, with `lamp` or `clock`.
    lamp : a box about a lamp that is lit while the coil is driven: it settles when each command
        reached the coil. It may stand for the log.
    clock : the board's beside this clip, as a tally with its beam log tells it: it stands in for a
        lamp.
    stream_px : the stream's two sides across the fall, that which the blade meets first before
        the other, inside a box that begins at the resting edge; None where the box is the stream.
    within_ms : strokes with a greater standard uncertainty are left out.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit;
        UselessStrokesError where no stroke is known well enough.
    """
    if not (np.isfinite(within_ms) and within_ms > 0):
        raise UsageError(f"{within_ms:g} ms", where="--within-ms", allowed="more than 0")
    log = _log(gate_log, lamp, clock, Path(source).name)
    loaded, _, _ = given_outlet(outlet, None, settings)
    watched = _Watched(loaded, box, lamp)
    with open_source(source, capture_fps=loaded.camera.capture_fps, ahead=True) as camera:
        _, frames = (clocked := Clocked(camera)).opened(PRIMING_FRAMES)
        for frame in frames:
            watched.look(frame)
    frame_s = clocked.clock.sigma_frame_s if clocked.clock is not None else 0.0
    stream = (0.0, 1.0) if stream_px is None else _sides(loaded, box, stream_px)
    settled = watched.settled(log)
    commands = settled.commands if settled is not None else _on_capture(log, clock)
    t_s = watched.blade.t_s
    found = watched.blade.shares(*_at_rest(t_s, commands))
    interval_s = float(np.median(np.diff(t_s)))
    exposure_us = loaded.camera.exposure_us
    exposure_s = interval_s if exposure_us is None else 1e-6 * exposure_us
    known_s = float(np.hypot(np.hypot(exposure_s, watched.readout_s), frame_s * 12.0**0.5))
    strokes = strokes_of(t_s, found.share, found.sigma, commands, exposure_s=known_s, stream=stream)
    made = Filmed(
        source=str(source),
        log=None if gate_log is None else str(gate_log),
        settled=settled,
        strokes=tuple(_limited(one, 1e-3 * within_ms) for one in strokes),
        rate_hz=1.0 / interval_s,
        within_s=1e-3 * within_ms,
    )
    if not any(one.shuts for one in made.used):
        raise UselessStrokesError(
            f"no stroke that shuts is known to {within_ms:g} ms: {_whys(made)}",
            where=str(source),
            remedy=_remedy(commands.sigma_s, within_ms),
        )
    return made


def _remedy(commands_s: float, within_ms: float) -> str:
    """Return what would help: where the commands are unsure, no frame rate does."""
    if commands_s >= 1e-3 * within_ms:
        return (
            f"the commands themselves are known to {1e3 * commands_s:.2f} ms only: let the coil "
            "light a lamp in view, and name its box by --lamp-px; or state --within-ms"
        )
    return (
        f"film at {_enough_hz(within_ms):.0f} frames a second or more, with a short "
        "exposure that the outlet file states, and without parts"
    )


class _Watched:
    """The boxes of blade and lamp, frame by frame; the first frame tells how they are exposed."""

    def __init__(self, outlet: Outlet, box: Box, lamp: Box | None) -> None:
        self._outlet, self._box, self._lamp_box = outlet, box, lamp
        self._blade: BladeBox | None = None
        self._lamp: LampLight | None = None
        self._first_ns = 0
        self.readout_s = 0.0

    def look(self, frame: Frame) -> None:
        """Take in one frame."""
        if self._blade is None:
            shape = frame.pixels.shape
            delay_s, self.readout_s = _exposed(self._outlet, shape, self._box)
            self._blade = BladeBox(self._box, delay_s)
            self._first_ns = frame.t_ns
            if self._lamp_box is not None:
                _require_inside(self._lamp_box, shape)
                middle_s, readout_s = _exposed(self._outlet, shape, self._lamp_box)
                ends_s = middle_s - readout_s / 2, middle_s + readout_s / 2
                self._lamp = LampLight(self._lamp_box, ends_s)
        self._blade.look(frame)
        if self._lamp is not None:
            self._lamp.look(frame)

    @property
    def blade(self) -> BladeBox:
        """The blade's box, once a frame was looked at."""
        assert self._blade is not None
        return self._blade

    def settled(self, log: GateLog | None) -> Settled | None:
        """Return what the lamp says of the commands; None where no lamp is looked at."""
        if self._lamp is None:
            return None
        events = self._lamp.events(self._first_ns)
        if log is None:
            return by_lamp_alone(events)
        commands = on_capture(log, None)
        return (off_the_board if log.clock == "board" else on_capture_clock)(commands, events)


def _log(
    path: str | Path | None, lamp: Box | None, clock: BoardClock | None, source: str
) -> GateLog | None:
    """Return the log of the commands, where it or something else tells when they came."""
    if path is None:
        if lamp is None:
            raise UsageError(
                "nothing tells when the gate was commanded",
                allowed="--gate-log FILE, or --lamp-px of a lamp that is wired to the coil",
            )
        return None
    log = read_gate_log(path)
    if log.clock == "board" and lamp is None and clock is None:
        raise UsageError(
            "a gate's log on the board's clock",
            where=str(path),
            allowed="a log with `# clock capture`; or with it what ties the board's clock to the "
            "camera's: --lamp-px of a lamp wired to the coil, or --tally of this clip",
            remedy="let the coil light a lamp in view, and name its box",
        )
    if clock is not None and Path(clock.source).name != source:
        raise UsageError(
            f"a tally of {clock.source}", where="--tally", allowed=f"one of {source} itself"
        )
    return log


def _on_capture(log: GateLog | None, clock: BoardClock | None) -> Commands:
    assert log is not None
    return on_capture(log, clock if log.clock == "board" else None)


def _require_inside(lamp: Box, shape: tuple[int, ...]) -> None:
    x0, y0, x1, y1 = lamp
    height, width = shape[0], shape[1]
    if not (0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height):
        raise UsageError(
            f"a box {x0} {y0} {x1} {y1} in a picture of {width} x {height} px",
            where="--lamp-px",
            allowed="x0 < x1, y0 < y1, inside the picture",
        )


def _exposed(outlet: Outlet, shape: tuple[int, ...], box: Box) -> tuple[float, float]:
    """Return how long after a frame's time the box is exposed, and for how long it is read out."""
    x0, y0, x1, y1 = box
    geometry = geometry_of(outlet, shape[0], shape[1])
    first, last = geometry.line_delay_s(np.array([x0, x1 - 1.0]), np.array([y0, y1 - 1.0]))
    return float(first + last) / 2, abs(float(last) - float(first))


def _sides(outlet: Outlet, box: Box, stream_px: tuple[float, float]) -> tuple[float, float]:
    """Return at which shares of the box the edge enters the stream, and has crossed it."""
    first, last = stream_px
    across = 0 if outlet.falls.vertical else 1
    low, high = box[across] - 0.5, box[across + 2] - 0.5
    if not (low <= min(first, last) < max(first, last) <= high):
        raise UsageError(
            f"a stream from {first:g} to {last:g} px",
            where="--stream-px",
            allowed=f"two sides inside the box, {low:g} to {high:g}",
        )
    start, width = (low, high - low) if first < last else (high, low - high)
    return (first - start) / width, (last - start) / width


def _at_rest(t_s: Floats, commands: Commands) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which frames surely show the gate open, and shut: those just before a command."""
    rest = np.zeros((2, len(t_s)), dtype=np.bool_)
    ends = [*commands.at_s.tolist(), float(t_s[-1]) + 1e-9]
    starts = [float(t_s[0]) - _REST_S / _REST_SHARE, *commands.at_s.tolist()]
    for k, (start, end) in enumerate(zip(starts, ends, strict=True)):
        since = end - min(_REST_S, _REST_SHARE * max(end - start, 0.0))
        is_open = commands.open_at_first == (k % 2 == 0)
        rest[0 if is_open else 1] |= (t_s >= since) & (t_s < end)
    return rest[0], rest[1]


def _limited(one: FilmedStroke, within_s: float) -> FilmedStroke:
    sigma = max(one.sigma_begins_s, one.sigma_done_s)
    if one.why or sigma <= within_s:
        return one
    return FilmedStroke(
        shuts=one.shuts,
        command_s=one.command_s,
        why=f"known to {1e3 * sigma:.2f} ms only",
    )


def _whys(made: Filmed) -> str:
    return "; ".join(dict.fromkeys(one.why for one in made.strokes if one.why)) or "none is shown"


def _enough_hz(within_ms: float) -> float:
    """Return the rate at which a moment anywhere between two frames is known well enough."""
    return 1e3 / (float(np.sqrt(12.0)) * within_ms)
