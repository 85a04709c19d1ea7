"""What is wrong with the marks themselves, in plain words; no clip is needed for that."""

from collections.abc import Iterator
from dataclasses import dataclass

from viscount.errors import OutletError
from viscount.monitor.setup.marks import Mark, Marks
from viscount.monitor.setup.settings import outlet_now
from viscount.monitor.setup.state import SetUp
from viscount.outlet import lamp_in_picture, line_in_picture, region_in_picture
from viscount.values import Level

_ROOM_SHARE = 0.08
"""A line closer to the border of the view than this share of it leaves too little to follow."""
_SHORT_RULER_PX = 40.0
_ASKEW_SHARE = 0.27
"""The sine of about 15 degrees."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something that is wrong with a mark.

    `level` is INVALID where nothing can be counted with it, DOUBT where it costs something.
    """

    level: Level
    mark: Mark
    text: str


def problems(setup: SetUp) -> tuple[Problem, ...]:
    """Return what is wrong with the marks, the gravest first."""
    found = [*_refused(setup), *_order(setup.now), *_ruler(setup.now), *_unplaced(setup.now)]
    if not any(one.level is Level.INVALID for one in found):
        found += [*_room(setup), *_lamp(setup)]
    return tuple(sorted(found, key=lambda one: one.level is not Level.INVALID))


def _refused(setup: SetUp) -> Iterator[Problem]:
    """Yield what the count itself would refuse."""
    outlet, size = outlet_now(setup), (setup.height_px, setup.width_px)
    checks = (
        (Mark.REGION, region_in_picture),
        (Mark.LAMP, lamp_in_picture),
        (Mark.LINE, line_in_picture),
    )
    for mark, look in checks:
        try:
            look(outlet, *size)
        except OutletError as error:
            allowed = f"; allowed: {error.allowed}" if error.allowed else ""
            yield Problem(level=Level.INVALID, mark=mark, text=f"{error.found}{allowed}")
            return


def _order(marks: Marks) -> Iterator[Problem]:
    """Yield marks that come after what they must come before, along the fall."""
    sign = marks.direction.sign
    pairs = (
        (Mark.LIP, Mark.LINE, "parts would cross the line before they leave the outlet"),
        (Mark.LIP, Mark.BEAM, "parts would meet the beam before they leave the outlet"),
        (Mark.LIP, Mark.BLADE, "the blade cuts below the lip"),
        (Mark.BEAM, Mark.BLADE, "a part that the beam counts is past the blade already"),
    )
    for first, then, why in pairs:
        here, there = marks.place_px(first), marks.place_px(then)
        if here is not None and there is not None and sign * (there - here) < 0:
            text = f"it comes before the {first} along the fall: {why}"
            yield Problem(level=Level.DOUBT, mark=then, text=text)


def _room(setup: SetUp) -> Iterator[Problem]:
    """Yield a line that is too close to where the view ends."""
    outlet = outlet_now(setup)
    size = (setup.height_px, setup.width_px)
    x0, y0, x1, y1 = region_in_picture(outlet, *size)
    low, high = (y0, y1) if outlet.falls.vertical else (x0, x1)
    line = line_in_picture(outlet, *size)
    room = min(line - low, high - 1 - line)
    if room < _ROOM_SHARE * (high - low):
        text = (
            f"{room:.0f} px from the border of what is looked at: "
            "parts need to be seen before and after it"
        )
        yield Problem(level=Level.DOUBT, mark=Mark.LINE, text=text)


def _lamp(setup: SetUp) -> Iterator[Problem]:
    """Yield a lamp's box that hides the counting line."""
    lamp, now = setup.now.lamp, setup.now
    if lamp is None:
        return
    size = (setup.height_px, setup.width_px)
    line = line_in_picture(outlet_now(setup), *size)
    low, high = (lamp[1], lamp[3]) if now.direction.vertical else (lamp[0], lamp[2])
    across = (lamp[2] - lamp[0]) if now.direction.vertical else (lamp[3] - lamp[1])
    wide = setup.width_px if now.direction.vertical else setup.height_px
    if low <= line < high and across > wide / 2:
        text = "its box hides most of the counting line; parts in it are not seen"
        yield Problem(level=Level.DOUBT, mark=Mark.LAMP, text=text)


def _ruler(marks: Marks) -> Iterator[Problem]:
    ruler = marks.ruler
    if ruler is None:
        return
    length = ruler.length_px
    if ruler.mm is None:
        text = "type how long the segment is in truth, in mm"
        yield Problem(level=Level.DOUBT, mark=Mark.SCALE, text=text)
    if length < _SHORT_RULER_PX:
        text = f"a segment of {length:.0f} px tells the scale to {100 / max(length, 1):.0f} % only"
        yield Problem(level=Level.DOUBT, mark=Mark.SCALE, text=text)
    across = abs(
        ruler.x1_px - ruler.x0_px if marks.direction.vertical else ruler.y1_px - ruler.y0_px
    )
    if length >= _SHORT_RULER_PX and across > _ASKEW_SHARE * length:
        text = "the segment runs across the fall: the scale along it is what counts"
        yield Problem(level=Level.DOUBT, mark=Mark.SCALE, text=text)


def _unplaced(marks: Marks) -> Iterator[Problem]:
    """Yield heights in mm that the picture cannot show yet."""
    for mark, height in ((Mark.BEAM, marks.beam), (Mark.BLADE, marks.blade)):
        if height is not None and marks.place_px(mark) is None:
            missing = [
                name
                for name, one in (("the lip", marks.lip_px), ("the scale", marks.scale_px_per_mm))
                if one is None
            ]
            text = f"given in mm below the lip; to be shown it needs {' and '.join(missing)}"
            yield Problem(level=Level.DOUBT, mark=mark, text=text)
