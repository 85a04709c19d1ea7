"""What a monitor is told, made by hand: pictures of a bar that falls, passages, pulses."""

import numpy as np

from viscount.monitor.model.monitor import Picture
from viscount.monitor.model.scenery import Scenery
from viscount.outlet import Outlet
from viscount.session.messages import BeamNow, Began, Passed, Pulsed, Snapshot
from viscount.tally import SetUp
from viscount.values import Basis, Direction, Falls, Passage, Pulse

ALONG, ACROSS, LINE = 160, 60, 80.0
SPEED, LENGTH = 1500.0, 30.0
FPS = 120.0


def scenery(falls: Falls = Falls.DOWN, **more: float) -> Scenery:
    """A line in the middle, and the picture turned as the fall has it."""
    line = LINE if falls.sign > 0 else ALONG - 1 - LINE
    shape = (ALONG, ACROSS) if falls.vertical else (ACROSS, ALONG)
    return Scenery(shape=shape, falls=falls, line_px=line, **more)


def picture(t_s: float, crossings_s: list[float], falls: Falls = Falls.DOWN) -> np.ndarray:
    """Bars of `LENGTH` that cross the line at these times, in the middle third across."""
    rows = np.arange(ALONG)
    shown = np.full((ALONG, ACROSS), 200, np.uint8)
    for at in crossings_s:
        centre = LINE + SPEED * (t_s - at)
        shown[np.abs(rows - centre) <= LENGTH / 2, 20:40] = 40
    upright = shown if falls.sign > 0 else shown[::-1]
    return upright if falls.vertical else upright.T


def taken(index: int, crossings_s: list[float]) -> Picture:
    t_s = index / FPS
    return Picture(index=index, t_s=t_s, pixels=picture(t_s, crossings_s))


def set_up(falls: Falls = Falls.DOWN, acceleration: float = 0.0) -> SetUp:
    return SetUp(
        falls=falls,
        line_px=LINE,
        view_px=ALONG,
        scale_px_per_mm=4.0,
        acceleration_px_s2=acceleration,
        head_share=0.5,
        quiet_s=1.0,
    )


def passage(number: int, t_s: float, **more: object) -> Passage:
    """One part of `LENGTH`, sure; `more` stands over that."""
    frame = round(t_s * FPS)
    chosen: dict[str, object] = {
        "id": number,
        "t_ns": round(1e9 * t_s),
        "sigma_ns": 20_000,
        "direction": Direction.WITH,
        "basis": Basis.INTERPOLATED,
        "speed_px_s": SPEED,
        "across_px": 30.0,
        "length_px": LENGTH,
        "parts": 1,
        "doubt": 1e-5,
        "first_frame": max(frame - 6, 0),
        "last_frame": frame + 6,
    }
    return Passage(**(chosen | more))  # type: ignore[arg-type]


def pulse(number: int, start_s: float, dark_s: float = LENGTH / SPEED) -> Pulse:
    start_ns = round(1e9 * start_s)
    return Pulse(id=number, epoch=0, start_ns=start_ns, end_ns=start_ns + round(1e9 * dark_s))


def began(**more: object) -> Began:
    return Began(camera="scripted", shape=(ALONG, ACROSS), line_px=LINE, **more)  # type: ignore[arg-type]


def snapshot(t_s: float, count: int = 0, pulses: int | None = None, **more: object) -> Snapshot:
    beam = None
    if pulses is not None:
        beam = BeamNow(linked=True, pulses=pulses, edges=2 * pulses, lost=0, waiting=0)
    chosen: dict[str, object] = {
        "t_s": t_s,
        "count": count,
        "frames": round(t_s * FPS),
        "dropped": 0,
        "rate_hz": FPS,
        "blind_s": 0.0,
        "age_ms": 20.0,
        "queued": 0,
        "camera": "on",
        "beam": beam,
        "unrecorded": None,
    }
    return Snapshot(**(chosen | more))  # type: ignore[arg-type]


def passed(*passages: Passage) -> Passed:
    return Passed(passages=passages, set_up=set_up())


def pulsed(*pulses: Pulse) -> Pulsed:
    return Pulsed(pulses=pulses, offset_ns=0)


OUTLET = Outlet.model_validate(
    {
        "view": {"line_px": LINE, "scale_px_per_mm": 4.0, "lip_px": -16.0},
        "motion": {"kind": "belt", "speed_mm_s": SPEED / 4.0},
        "beam": {"at_px": 120.0, "width_mm": 1.0},
    }
)
