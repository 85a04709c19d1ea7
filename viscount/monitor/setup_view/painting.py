"""Marks drawn on the picture: lines with their names beside it, boxes, and the ruler."""

from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from viscount.monitor.setup.labels import spread
from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.showing import Showing
from viscount.monitor.setup.state import SetUp
from viscount.monitor.theme import Theme

STYLES = {
    Mark.LINE: Qt.PenStyle.SolidLine,
    Mark.LIP: Qt.PenStyle.DashLine,
    Mark.BEAM: Qt.PenStyle.DashDotLine,
    Mark.BLADE: Qt.PenStyle.DotLine,
    Mark.REGION: Qt.PenStyle.SolidLine,
    Mark.LAMP: Qt.PenStyle.SolidLine,
    Mark.SCALE: Qt.PenStyle.SolidLine,
}
_HANDLE = 8.0
_PAD = 7.0
_GAP = 4.0
_FREE = 10.0


def colour_of(mark: Mark, theme: Theme) -> QColor:
    """Return a mark's colour."""
    return QColor(
        {
            Mark.LINE: theme.line,
            Mark.REGION: theme.region,
            Mark.LIP: theme.lip,
            Mark.SCALE: theme.agree,
            Mark.BEAM: theme.beam,
            Mark.BLADE: theme.blade,
            Mark.LAMP: theme.lamp,
        }[mark]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What all drawing needs: where, how large, and in which colours."""

    painter: QPainter
    setup: SetUp
    showing: Showing
    size: QRectF
    theme: Theme
    font: QFont

    @property
    def picture(self) -> QRectF:
        """Where the picture lies in the window."""
        zoom = self.showing.zoom
        width, height = self.setup.width_px * zoom, self.setup.height_px * zoom
        return QRectF(self.showing.left, self.showing.top, width, height)

    @property
    def upright(self) -> bool:
        """Whether parts fall up or down."""
        return self.setup.now.direction.vertical

    def box(self, mark: Mark) -> QRectF | None:
        """Where a mark's box lies in the window."""
        box = self.setup.now.box(mark)
        if box is None:
            return None
        x0, y0 = self.showing.to_window(box[0] - 0.5, box[1] - 0.5)
        x1, y1 = self.showing.to_window(box[2] - 0.5, box[3] - 0.5)
        return QRectF(x0, y0, x1 - x0, y1 - y0)

    def along(self, mark: Mark) -> float | None:
        """Where a line across the fall lies in the window, along the fall."""
        place = self.setup.now.place_px(mark)
        if place is None:
            return None
        x, y = self.showing.to_window(place, place)
        return y if self.upright else x


def paint_marks(ground: Ground) -> None:
    """Draw all marks that are set, and their names."""
    _shade_outside(ground)
    _arrow(ground)
    for mark in (Mark.REGION, Mark.LAMP):
        _box(ground, mark)
    for mark in (Mark.LIP, Mark.BLADE, Mark.BEAM, Mark.LINE):
        _line(ground, mark)
    _ruler(ground)
    for far in (False, True):
        _names(ground, [mark for mark in Mark if _is_far(ground, mark) is far], far=far)


def name_room(font: QFont) -> float:
    """Return how much room the names need beside the picture."""
    metrics = QFontMetricsF(font)
    longest = max(metrics.horizontalAdvance(mark.value) for mark in Mark)
    return float(longest) + 2 * _PAD + 4 + 2 * _FREE + 2 * _GAP


def _pens(ground: Ground, mark: Mark) -> tuple[QPen, QPen]:
    """Return the pen of a mark's halo, and its own."""
    selected = ground.setup.selected is mark
    width = 2.8 if selected else 1.9
    halo = QColor(ground.theme.background)
    halo.setAlpha(170)
    under = QPen(halo, width + 2.6)
    under.setCapStyle(Qt.PenCapStyle.FlatCap)
    own = QPen(colour_of(mark, ground.theme), width, STYLES[mark])
    own.setCapStyle(Qt.PenCapStyle.FlatCap)
    return under, own


def _shade_outside(ground: Ground) -> None:
    """Darken what is not looked at."""
    region = ground.box(Mark.REGION)
    if region is None:
        return
    shade = QColor(ground.theme.background)
    shade.setAlpha(140)
    picture = ground.picture
    middle = QRectF(picture.left(), region.top(), picture.width(), region.height())
    for rest in (
        QRectF(picture.topLeft(), QPointF(picture.right(), region.top())),
        QRectF(QPointF(picture.left(), region.bottom()), picture.bottomRight()),
        QRectF(middle.topLeft(), QPointF(region.left(), middle.bottom())),
        QRectF(QPointF(region.right(), middle.top()), middle.bottomRight()),
    ):
        ground.painter.fillRect(rest, shade)


def _arrow(ground: Ground) -> None:
    """Show where parts go, in the upper left corner of the picture."""
    picture, direction = ground.picture.intersected(ground.size), ground.setup.now.direction
    if picture.width() < 60 or picture.height() < 60:
        return
    inset, half, head = 16.0, 26.0, 7.0
    if ground.upright:
        middle = QPointF(picture.left() + inset, picture.top() + inset + half)
        along, aside = QPointF(0, direction.sign), QPointF(1, 0)
    else:
        middle = QPointF(picture.left() + inset + half, picture.top() + inset)
        along, aside = QPointF(direction.sign, 0), QPointF(0, 1)
    tip, tail = middle + along * half, middle - along * half
    strokes = [
        QLineF(tail, tip),
        QLineF(tip, tip - along * head + aside * head),
        QLineF(tip, tip - along * head - aside * head),
    ]
    halo = QColor(ground.theme.background)
    halo.setAlpha(170)
    for pen in (QPen(halo, 5.0), QPen(QColor(ground.theme.text), 2.0)):
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        ground.painter.setPen(pen)
        ground.painter.drawLines(strokes)


def _line(ground: Ground, mark: Mark) -> None:
    along = ground.along(mark)
    if along is None:
        return
    picture, painter = ground.picture, ground.painter
    if ground.upright:
        line = QLineF(picture.left(), along, picture.right(), along)
    else:
        line = QLineF(along, picture.top(), along, picture.bottom())
    for pen in _pens(ground, mark):
        painter.setPen(pen)
        painter.drawLine(line)
    if ground.setup.selected is mark:
        visible = picture.intersected(ground.size)
        middle = (
            QPointF(visible.center().x(), along)
            if ground.upright
            else QPointF(along, visible.center().y())
        )
        _handle(ground, mark, middle)


def _box(ground: Ground, mark: Mark) -> None:
    box = ground.box(mark)
    if box is None:
        return
    ground.painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen in _pens(ground, mark):
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        ground.painter.setPen(pen)
        ground.painter.drawRect(box)
    if ground.setup.selected is mark:
        middle = box.center()
        for x in (box.left(), middle.x(), box.right()):
            for y in (box.top(), middle.y(), box.bottom()):
                if (x, y) != (middle.x(), middle.y()):
                    _handle(ground, mark, QPointF(x, y))


def _ruler(ground: Ground) -> None:
    ruler = ground.setup.now.ruler
    if ruler is None:
        return
    start = QPointF(*ground.showing.to_window(ruler.x0_px, ruler.y0_px))
    end = QPointF(*ground.showing.to_window(ruler.x1_px, ruler.y1_px))
    line = QLineF(start, end)
    strokes = [line]
    if line.length() > 1:
        aside = line.normalVector().unitVector()
        tick = QPointF(aside.dx(), aside.dy()) * 7.0
        strokes += [QLineF(start - tick, start + tick), QLineF(end - tick, end + tick)]
    for pen in _pens(ground, Mark.SCALE):
        ground.painter.setPen(pen)
        ground.painter.drawLines(strokes)
    if ground.setup.selected is Mark.SCALE:
        _handle(ground, Mark.SCALE, start)
        _handle(ground, Mark.SCALE, end)


def _handle(ground: Ground, mark: Mark, at: QPointF) -> None:
    ground.painter.setPen(QPen(QColor(ground.theme.background), 1.0))
    ground.painter.setBrush(colour_of(mark, ground.theme))
    ground.painter.drawRect(QRectF(at.x() - _HANDLE / 2, at.y() - _HANDLE / 2, _HANDLE, _HANDLE))
    ground.painter.setBrush(Qt.BrushStyle.NoBrush)


def _is_far(ground: Ground, mark: Mark) -> bool:
    """Whether a mark's name stands right of the picture, or below it; that of all lines does."""
    box, ruler, setup = ground.setup.now.box(mark), ground.setup.now.ruler, ground.setup
    if mark is Mark.LAMP and box is not None:
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    elif mark is Mark.SCALE and ruler is not None:
        x, y = (ruler.x0_px + ruler.x1_px) / 2, (ruler.y0_px + ruler.y1_px) / 2
    else:
        return mark.crosses
    return x > setup.width_px / 2 if ground.upright else y > setup.height_px / 2


def _anchor(ground: Ground, mark: Mark, *, far: bool) -> QPointF | None:
    """Return the point of a mark that its name belongs to, on the side where names stand."""
    picture = ground.picture
    along = ground.along(mark)
    if along is not None:
        if ground.upright:
            return QPointF(picture.right(), along)
        return QPointF(along, picture.bottom())
    box, ruler = ground.box(mark), ground.setup.now.ruler
    if box is not None and ground.upright:
        return QPointF(box.right() if far else box.left(), box.center().y())
    if box is not None:
        return QPointF(box.center().x(), box.bottom() if far else box.top())
    if mark is Mark.SCALE and ruler is not None:
        x, y = (ruler.x0_px + ruler.x1_px) / 2, (ruler.y0_px + ruler.y1_px) / 2
        return QPointF(*ground.showing.to_window(x, y))
    return None


def _names(ground: Ground, marks: list[Mark], *, far: bool) -> None:
    """Draw names in the margin beside the picture, each joined to its mark."""
    found = [(mark, _anchor(ground, mark, far=far)) for mark in marks]
    size = ground.size.adjusted(_GAP, _GAP, -_GAP, -_GAP)
    shown = [(mark, at) for mark, at in found if at is not None and _in_reach(ground, at)]
    if not shown:
        return
    metrics = QFontMetricsF(ground.font)
    tall = metrics.height() + _PAD
    wide = [metrics.horizontalAdvance(mark.value) + 2 * _PAD + 4 for mark, _ in shown]
    picture = ground.picture
    if ground.upright:
        starts = spread(
            [at.y() for _, at in shown], [tall] * len(shown), size.top(), size.bottom(), _GAP
        )
        for (mark, at), start, width in zip(shown, starts, wide, strict=True):
            left = (
                min(picture.right() + 2 * _FREE, size.right() - width)
                if far
                else max(picture.left() - 2 * _FREE - width, size.left())
            )
            _name(ground, mark, QRectF(left, start, width, tall), at)
        return
    starts = spread([at.x() for _, at in shown], wide, size.left(), size.right(), _GAP)
    for (mark, at), start, width in zip(shown, starts, wide, strict=True):
        top = (
            min(picture.bottom() + 2 * _FREE, size.bottom() - tall)
            if far
            else max(picture.top() - 2 * _FREE - tall, size.top())
        )
        _name(ground, mark, QRectF(start, top, width, tall), at)


def _in_reach(ground: Ground, at: QPointF) -> bool:
    """Whether a mark is in the window, along the side where its name stands."""
    if ground.upright:
        return ground.size.top() - 1 <= at.y() <= ground.size.bottom() + 1
    return ground.size.left() - 1 <= at.x() <= ground.size.right() + 1


def _name(ground: Ground, mark: Mark, where: QRectF, at: QPointF) -> None:
    painter, theme, colour = ground.painter, ground.theme, colour_of(mark, ground.theme)
    if not where.contains(at):
        painter.setPen(QPen(colour, 1.0))
        painter.drawLine(QLineF(at, _nearest(where, at)))
    selected = ground.setup.selected is mark
    painter.setPen(QPen(colour if selected else QColor(theme.rule), 1.5 if selected else 1.0))
    painter.setBrush(QColor(theme.panel))
    painter.drawRoundedRect(where, 3, 3)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.fillRect(QRectF(where.left() + 1, where.top() + 3, 4, where.height() - 6), colour)
    painter.setPen(QColor(theme.text))
    painter.setFont(ground.font)
    inside = where.adjusted(_PAD + 4, 0, -_PAD / 2, 0)
    painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, mark.value)


def _nearest(where: QRectF, at: QPointF) -> QPointF:
    """Return the middle of the side of a name that faces its mark."""
    if at.x() < where.left() or at.x() > where.right():
        return QPointF(where.left() if at.x() < where.left() else where.right(), where.center().y())
    return QPointF(where.center().x(), where.top() if at.y() < where.top() else where.bottom())
