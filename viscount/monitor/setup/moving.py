"""Marks that are placed, dragged, nudged, turned and cleared."""

from dataclasses import replace

from viscount.monitor.setup.gripping import Grip, Handle
from viscount.monitor.setup.marks import Height, Mark, Marks, Ruler
from viscount.monitor.setup.state import Hold, SetUp, selecting, stepped
from viscount.outlet import Box
from viscount.values import Falls

LARGEST_SCALE = 1000.0
_OUTSIDE = 3.0
"""Lip, beam and blade may lie outside the picture, by so many times its size at most."""


def grabbed(setup: SetUp, grip: Grip) -> SetUp:
    """Take hold of a mark; `pulled` moves it, `dropped` or `let_be` ends it."""
    hold = Hold(grip=grip, origin=setup.now, before=setup.now)
    return replace(selecting(setup, grip.mark), hold=hold)


def begun(setup: SetUp, mark: Mark, x_px: float, y_px: float) -> SetUp:
    """Begin a mark that is open at a point of the picture, and hold it there."""
    handle = Handle.WHOLE
    if mark.crosses:
        place = y_px if setup.now.direction.vertical else x_px
        origin = _with_place(setup, setup.now, mark, place)
    elif mark is Mark.SCALE:
        handle = Handle.END
        x_px, y_px = _inside(setup, x_px, y_px)
        mm = None if setup.now.ruler is None else setup.now.ruler.mm
        ruler = Ruler(x0_px=x_px, y0_px=y_px, x1_px=x_px, y1_px=y_px, mm=mm)
        origin = replace(setup.now, ruler=ruler)
    else:
        handle = Handle.X1Y1
        # Edges lie between pixels, whose centres are at whole numbers.
        x0 = min(max(round(x_px + 0.5), 0), setup.width_px)
        y0 = min(max(round(y_px + 0.5), 0), setup.height_px)
        origin = _with_box(setup.now, mark, (x0, y0, x0, y0))
    hold = Hold(grip=Grip(mark=mark, handle=handle), origin=origin, before=setup.now)
    return pulled(replace(selecting(setup, mark), now=origin, hold=hold), 0.0, 0.0)


def pulled(setup: SetUp, right_px: float, down_px: float) -> SetUp:
    """Move what is held by this much in all since it was grabbed; this is no step yet."""
    if setup.hold is None:
        return setup
    now = _moved(setup, setup.hold.origin, setup.hold.grip, right_px, down_px)
    return replace(setup, now=now)


def dropped(setup: SetUp) -> SetUp:
    """Let go of what is held where it is: one step."""
    if setup.hold is None:
        return setup
    return stepped(replace(setup, now=setup.hold.before, hold=None), setup.now)


def let_be(setup: SetUp) -> SetUp:
    """Let go of what is held, with all marks as they stood before."""
    return setup if setup.hold is None else replace(setup, now=setup.hold.before, hold=None)


def placed(setup: SetUp, mark: Mark, place_px: float) -> SetUp:
    """Put a line across the fall at a place along it, as one step."""
    marks = _with_place(setup, setup.now, mark, place_px)
    return stepped(selecting(setup, mark), marks)


def framed(setup: SetUp, mark: Mark, box: Box) -> SetUp:
    """Put a box, cut to the picture, as one step."""
    x0, y0, x1, y1 = box
    x0, y0 = min(max(x0, 0), setup.width_px - 1), min(max(y0, 0), setup.height_px - 1)
    x1, y1 = max(min(x1, setup.width_px), x0 + 1), max(min(y1, setup.height_px), y0 + 1)
    return stepped(selecting(setup, mark), _with_box(setup.now, mark, (x0, y0, x1, y1)))


def nudged(setup: SetUp, right_px: int, down_px: int) -> SetUp:
    """Move the selected mark; nudges in a row are one step."""
    mark = setup.selected
    if mark is None or setup.now.is_open(mark) or setup.hold is not None:
        return setup
    grip = Grip(mark=mark, handle=Handle.WHOLE)
    return stepped(setup, _moved(setup, setup.now, grip, right_px, down_px), nudged=mark)


def cleared(setup: SetUp, mark: Mark) -> SetUp:
    """Leave a mark open again, where the outlet file allows it."""
    if not can_clear(setup, mark):
        return setup
    match mark:
        case Mark.LINE:
            marks = replace(setup.now, line_px=None)
        case Mark.LIP:
            marks = replace(setup.now, lip_px=None)
        case Mark.BEAM:
            marks = replace(setup.now, beam=None)
        case Mark.BLADE:
            marks = replace(setup.now, blade=None)
        case Mark.SCALE:
            marks = replace(setup.now, scale_px_per_mm=None, ruler=None)
        case Mark.REGION | Mark.LAMP:
            marks = _with_box(setup.now, mark, None)
    return stepped(setup, marks)


def can_clear(setup: SetUp, mark: Mark) -> bool:
    """Whether a mark is set, and may be left open.

    A beam or a gate of which the file says more than its height needs a height.
    """
    section = {Mark.BEAM: setup.outlet.beam, Mark.BLADE: setup.outlet.gate}.get(mark)
    heights = {"at_px", "below_lip_mm"}
    says_more = section is not None and bool(
        {name for name, value in section if value is not None} - heights
    )
    return not setup.now.is_open(mark) and not says_more


def turned(setup: SetUp, falls: Falls) -> SetUp:
    """Have parts fall another way.

    Lines keep their place in the picture where the fall turns round, and their share of the way
    through the picture where it turns from upright to level or back.
    """
    now = setup.now
    if now.falls is falls:
        return setup
    marks = replace(now, falls=falls)
    if now.direction.vertical != falls.vertical:
        before = now.direction
        ends = (setup.height_px, setup.width_px)
        old, new = ends if before.vertical else ends[::-1]

        def carried(place: float | None) -> float | None:
            if place is None:
                return None
            share = (place + 0.5) / old
            share = share if before.sign == falls.sign else 1.0 - share
            return round(share * new - 0.5, 1)

        def height(one: Height | None) -> Height | None:
            if one is None or one.at_px is None:
                return one
            return Height(at_px=carried(one.at_px))

        marks = replace(
            marks,
            line_px=carried(now.line_px),
            lip_px=carried(now.lip_px),
            beam=height(now.beam),
            blade=height(now.blade),
        )
    return stepped(setup, marks)


def measured(setup: SetUp, mm: float) -> SetUp:
    """Say how long the ruler is in truth; the scale follows from that."""
    ruler = setup.now.ruler
    if ruler is None or not mm > 0:
        return setup
    return stepped(setup, _with_ruler(setup.now, replace(ruler, mm=mm)))


def _moved(setup: SetUp, marks: Marks, grip: Grip, right_px: float, down_px: float) -> Marks:
    mark = grip.mark
    if mark.crosses:
        place = marks.place_px(mark)
        by = down_px if marks.direction.vertical else right_px
        return marks if place is None else _with_place(setup, marks, mark, place + by)
    if mark is Mark.SCALE:
        return marks if marks.ruler is None else _ruler_moved(setup, marks, grip, right_px, down_px)
    box = marks.box(mark)
    if box is None:
        return marks
    moved = _box_moved(setup, box, grip.handle, round(right_px), round(down_px))
    return _with_box(marks, mark, moved)


def _box_moved(setup: SetUp, box: Box, handle: Handle, right: int, down: int) -> Box:
    x0, y0, x1, y1 = box
    width, height = setup.width_px, setup.height_px
    if handle is Handle.WHOLE:
        right = min(max(right, -x0), width - x1)
        down = min(max(down, -y0), height - y1)
        return (x0 + right, y0 + down, x1 + right, y1 + down)
    if handle.has_x0:
        x0 = min(max(x0 + right, 0), width)
    if handle.has_x1:
        x1 = min(max(x1 + right, 0), width)
    if handle.has_y0:
        y0 = min(max(y0 + down, 0), height)
    if handle.has_y1:
        y1 = min(max(y1 + down, 0), height)
    # A corner that is pulled past the other one changes places with it.
    x0, x1 = sorted((x0, x1))
    y0, y1 = sorted((y0, y1))
    x0, y0 = min(x0, width - 1), min(y0, height - 1)
    return (x0, y0, max(x1, x0 + 1), max(y1, y0 + 1))


def _ruler_moved(setup: SetUp, marks: Marks, grip: Grip, right: float, down: float) -> Marks:
    ruler = marks.ruler
    assert ruler is not None
    start, end = (ruler.x0_px, ruler.y0_px), (ruler.x1_px, ruler.y1_px)
    if grip.handle in (Handle.WHOLE, Handle.START):
        start = _inside(setup, start[0] + right, start[1] + down)
    if grip.handle in (Handle.WHOLE, Handle.END):
        end = _inside(setup, end[0] + right, end[1] + down)
    moved = Ruler(x0_px=start[0], y0_px=start[1], x1_px=end[0], y1_px=end[1], mm=ruler.mm)
    if grip.handle is Handle.WHOLE and abs(moved.length_px - ruler.length_px) > 0.05:
        return marks  # it would be cut short at the border of the picture
    return _with_ruler(marks, moved)


def _with_ruler(marks: Marks, ruler: Ruler) -> Marks:
    scale = marks.scale_px_per_mm
    if ruler.mm is not None and ruler.length_px > 0:
        scale = float(f"{min(ruler.length_px / ruler.mm, LARGEST_SCALE):.5g}")
    return replace(marks, ruler=ruler, scale_px_per_mm=scale)


def _with_place(setup: SetUp, marks: Marks, mark: Mark, place: float) -> Marks:
    far = _OUTSIDE * setup.along_px
    low, high = (0.0, setup.along_px - 1.0) if mark is Mark.LINE else (-far, far + setup.along_px)
    place = round(min(max(place, low), high), 1)
    match mark:
        case Mark.LINE:
            return replace(marks, line_px=place)
        case Mark.LIP:
            return replace(marks, lip_px=place)
        case Mark.BEAM:
            return replace(marks, beam=Height(at_px=place))
        case Mark.BLADE:
            return replace(marks, blade=Height(at_px=place))
        case _:
            return marks


def _with_box(marks: Marks, mark: Mark, box: Box | None) -> Marks:
    return replace(marks, region=box) if mark is Mark.REGION else replace(marks, lamp=box)


def _inside(setup: SetUp, x_px: float, y_px: float) -> tuple[float, float]:
    x = min(max(x_px, -0.5), setup.width_px - 0.5)
    y = min(max(y_px, -0.5), setup.height_px - 0.5)
    return round(x, 1), round(y, 1)
