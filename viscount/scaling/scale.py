"""The run: clips and pictures in, scale and line time out."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount._version import __version__
from viscount.codes import Code
from viscount.errors import UsageError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.measure.line_time.estimate import settled
from viscount.measure.scale.checkerboard import by_checkerboard
from viscount.measure.scale.gravity import Circumstances, by_gravity
from viscount.measure.scale.part_size import Stated, by_part, stated_size
from viscount.measure.scale.ruler import by_ruler
from viscount.measure.scale.way import By, Way, together
from viscount.measure.slowness import slowness
from viscount.outlet import (
    MotionKind,
    Outlet,
    Part,
    Readout,
    marked_outlet,
    marked_part,
    outlet_with,
)
from viscount.scaling.answer import Scaled
from viscount.scaling.asked import Asked, Ways
from viscount.scaling.clip import Looked, look
from viscount.scaling.line_time import line_times, unlike_outlet
from viscount.values import Falls, Level, Notice

LONGEST_MM = 150.0
"""A small part that would be longer than this by gravity fell in slow motion."""
MOST_SHAKE_PX = 0.7
"""Standard deviation, along the fall."""
_LINE_US = 10.0
"""For a line time of so much it is said what it would change."""


def scaled(
    sources: Sequence[str | Path],
    *,
    outlet: str | Path | Outlet | None = None,
    part: str | Path | Part | None = None,
    asked: Asked | None = None,
    settings: Sequence[str] = (),
    registry: Registry | None = None,
    heard: Callable[[str], None] | None = None,
) -> Scaled:
    """Measure scale and line time.

    Parameters
    ----------
    sources : clips of a pour, and pictures of a ruler or a checkerboard where parts fall.
    outlet : outlet file or loaded outlet; its scale, speed and acceleration are laid aside.
    part : part file or loaded part; it stands over the outlet's own.
    asked : what is to be measured; None for all that can be.
    settings : ``key=value`` texts that stand over the outlet file.
    registry : loaded plugins; None loads those that are installed.
    heard : is told the name of each source before it is looked at.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read, or does not fit.
    """
    asked = asked or Asked()
    asked.require_sense()
    if not sources:
        raise UsageError("nothing to look at", allowed="a clip of a pour, or a picture of a ruler")
    loaded, mark = marked_outlet(outlet)
    chosen, _ = outlet_with(loaded, settings)
    given, _ = marked_part(part)
    size = _size(given or chosen.part)
    if Ways.PART in asked.by and size is None:
        raise UsageError(
            "no part of known size",
            where="--by part",
            allowed="--part FILE with diameter_mm, overall_length_mm or along_fall_mm",
        )
    plugins = registry or load_plugins()
    looks = []
    for source in sources:
        if heard is not None:
            heard(str(source))
        looks.append(look(source, chosen, mark, plugins, asked.frames))
    _require_one_size(looks)
    pictures = any(one.lines is None for one in looks)
    ways = tuple(way for one in looks for way in _ways(one, chosen, size, asked, pictures))
    ways = _judged(ways, looks)
    lines = tuple(found for one in looks for found in line_times(one, chosen, asked))
    if not ways and not lines:
        raise UsageError(
            "nothing says what to measure",
            where=", ".join(str(s) for s in sources),
            allowed="a clip of falling parts; or --ruler-mm, --checkerboard, --part, --sensor",
        )
    scale, apart = together(ways)
    line_time, unlike = settled(lines, chosen.falls, _readout_of(chosen))
    return Scaled(
        made_by=f"viscount {__version__}",
        sources=tuple(str(source) for source in sources),
        outlet=mark,
        ways=ways,
        scale=scale,
        line_ways=lines,
        line_time=line_time,
        old_scale_px_per_mm=loaded.view.scale_px_per_mm,
        old_line_time_us=loaded.camera.line_time_us,
        notices=(*apart, *unlike, *unlike_outlet(lines, looks[0], chosen)),
    )


def _require_one_size(looks: Sequence[Looked]) -> None:
    """Refuse pictures of another size than the clip's: their px are others."""
    sizes = {one.geometry.picture: one.source for one in looks}
    if len(sizes) > 1:
        found = ", ".join(f"{name} has {w}x{h} px" for (h, w), name in sizes.items())
        raise UsageError(
            f"pictures of different sizes: {found}",
            allowed="one size, as the camera delivers it: a px is then the same everywhere",
            remedy="take the picture of ruler or board with the clip's own settings",
        )


def _readout_of(outlet: Outlet) -> Falls | None:
    readout = outlet.camera.readout
    return None if readout in (None, Readout.GLOBAL) else Falls(readout.value)


def _size(part: Part | None) -> Stated | None:
    if part is None:
        return None
    return stated_size(
        shape=None if part.shape is None else part.shape.value,
        overall_length_mm=part.overall_length_mm,
        diameter_mm=part.diameter_mm,
        thickness_mm=part.thickness_mm,
        along_fall_mm=part.along_fall_mm,
    )


def _ways(
    seen: Looked, outlet: Outlet, size: Stated | None, asked: Asked, pictures: bool
) -> Iterator[Way]:
    """Yield what each way says that this source allows; `pictures`: some source is a picture."""
    picture = seen.lines is None
    shown = picture or not pictures
    if asked.ruler_mm is not None and asked.wants(Ways.RULER) and shown:
        upright, middle = _upright(seen)
        yield by_ruler(upright, asked.ruler_mm, middle_px=middle[0], source=seen.source)
    corners, square_mm = asked.corners, asked.square_mm
    board = corners is not None and square_mm is not None and asked.wants(Ways.CHECKERBOARD)
    if board and shown and corners is not None and square_mm is not None:
        upright, middle = _upright(seen)
        yield by_checkerboard(upright, corners, square_mm, middle_px=middle, source=seen.source)
    if picture:
        return
    if asked.wants(Ways.GRAVITY) and _falls(outlet, asked):
        yield _gravity(seen, outlet, asked)
    if size is not None and asked.wants(Ways.PART):
        line_s = seen.geometry.line_time_along_s
        yield by_part(seen.sized, size, source=seen.source, line_time_along_s=line_s)


def _falls(outlet: Outlet, asked: Asked) -> bool:
    """Whether gravity can tell; raises UsageError where it was asked for and cannot."""
    kind = outlet.motion.kind
    if kind in (None, MotionKind.FREE_FALL):
        return True
    if asked.insists(Ways.GRAVITY):
        raise UsageError(
            f"parts that {'slide' if kind is MotionKind.SLIDE else 'ride on a belt'}",
            where="motion.kind",
            allowed="free_fall: only there the acceleration is gravity",
            remedy="measure the scale with --ruler-mm, --checkerboard or --part",
        )
    return False


def _gravity(seen: Looked, outlet: Outlet, asked: Asked) -> Way:
    geometry, camera = seen.geometry, outlet.camera
    around = Circumstances(
        view_px=seen.view_px,
        picture_px=seen.picture_px,
        line_time_s=geometry.line_time_along_s,
        tilt_deg=asked.tilt_deg,
        g_mm_s2=asked.gravity_mm_s2,
        shake_px=seen.shake_px,
        rate_stated=camera.capture_fps is not None,
        **({} if asked.g_mm_s2 is None else {"g_share": _KNOWN_G_SHARE}),
    )
    way = by_gravity(seen.fallen, around, source=seen.source)
    notices = [*_clock(seen, outlet), *way.notices]
    # Parts that were followed with a wrong speed are others in each frame.
    notices += [notice for notice in seen.notices if notice.code is Code.SPEED_AMBIGUOUS]
    if outlet.motion.kind is None:
        text = "no kind of motion was given; parts are taken to fall freely"
        notices.append(Notice(level=Level.DOUBT, code=Code.MOTION_ASSUMED, text=text))
    if seen.shake_px > MOST_SHAKE_PX:
        text = f"the camera shakes by about {seen.shake_px:.1f} px: paths are bent by it"
        notices.append(Notice(level=Level.DOUBT, code=Code.CAMERA_SHAKES, text=text))
    known = camera.line_time_us is not None and camera.readout is not None
    if not known and camera.readout is None and camera.line_time_us != 0.0:
        notices.append(_readout(seen, way))
    refused = any(notice.level is Level.INVALID for notice in notices)
    return replace(way, value=None if refused else way.value, notices=tuple(notices))


_KNOWN_G_SHARE = 1e-4
"""Half-width of a stated gravity, relative."""


def _clock(seen: Looked, outlet: Outlet) -> Iterator[Notice]:
    """Say whether the clock is real time, as far as that is known."""
    if outlet.camera.capture_fps is not None:
        return
    if seen.assumed_rate:
        text = "nothing tells when these pictures were taken; px a second would be a guess"
        yield Notice(level=Level.INVALID, code=Code.CLOCK_ASSUMED, text=text)
    elif seen.capture_tag is not None:
        text = (
            f"a tag in the file states {seen.capture_tag:g} frames a second at capture, and "
            "camera.capture_fps is not set: its times may be slowed"
        )
        yield Notice(level=Level.INVALID, code=Code.CAPTURE_RATE_TAG, text=text)
    else:
        yield Notice(level=Level.INFO, code=Code.CLOCK_ASSUMED, text=Code.CLOCK_ASSUMED.meaning)


def _readout(seen: Looked, way: Way) -> Notice:
    """Say what an unknown rolling shutter would do: `a` seems ``1 / (1 - v T)³`` times itself."""
    speeds = [float(np.ptp(p.y_px) / max(float(np.ptp(p.t_s)), 1e-9)) for p in seen.fallen]
    effect = 3.0 * float(np.median(speeds)) * _LINE_US * 1e-6 if speeds else 0.0
    text = (
        f"how the sensor is read is not known: each {_LINE_US:g} us a line along the fall would "
        f"change the scale by gravity by {100 * effect:.1f} %"
    )
    return Notice(level=Level.DOUBT, code=Code.READOUT_UNKNOWN, text=text)


def _judged(ways: tuple[Way, ...], looks: Sequence[Looked]) -> tuple[Way, ...]:
    """Take gravity's word back where it shows slow motion: by another way, or by giant parts."""
    others = [way for way in ways if way.by is not By.GRAVITY and way.value is not None]
    found = []
    for way in ways:
        if way.by is By.GRAVITY and way.value is not None:
            seen = next(one for one in looks if one.source == way.source)
            notice = _slowed(way.value, [o.value for o in others if o.value], seen.length_px)
            if notice is not None:
                way = replace(way, value=None, notices=(*way.notices, notice))
        found.append(way)
    return tuple(found)


def _slowed(value: float, others: Sequence[float], length_px: float | None) -> Notice | None:
    if others:
        # Apparent g: what gravity's px/s² come to by the other ways' px/mm.
        slow = slowness(value * _STANDARD_MM_S2, float(np.median(others)))
        if slow is not None:
            return replace(slow.notice(), level=Level.INVALID)
    elif length_px is not None and length_px / value > LONGEST_MM:
        text = (
            f"by gravity the parts would be {length_px / value:.0f} mm long: the clip is slowed "
            "down, or something else than small parts falls"
        )
        return Notice(level=Level.INVALID, code=Code.CAPTURE_RATE_SLOWED, text=text)
    return None


_STANDARD_MM_S2 = 9806.65


def _upright(seen: Looked) -> tuple[NDArray[np.uint8], tuple[float, float]]:
    """Return the region of the picture with the fall down axis 0, and its middle."""
    x0, y0, x1, y1 = seen.geometry.view
    falls = seen.geometry.falls
    picture = seen.level[y0:y1, x0:x1]
    picture = picture if falls.vertical else picture.T
    picture = picture if falls.sign > 0 else picture[::-1]
    height, width = picture.shape
    return np.ascontiguousarray(picture), ((height - 1) / 2, (width - 1) / 2)
