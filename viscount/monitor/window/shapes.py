"""Shapes that say the same as their colours: a state is told without either of them alone."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from viscount.monitor.model.standing import Shape
from viscount.monitor.theme import Theme


def colour_of(shape: Shape, theme: Theme) -> str:
    """Return the colour of a state."""
    return {
        Shape.GOOD: theme.good,
        Shape.DOUBT: theme.doubt,
        Shape.BAD: theme.bad,
        Shape.WAITS: theme.camera,
        Shape.OFF: theme.faint,
    }[shape]


def draw_shape(painter: QPainter, box: QRectF, shape: Shape, theme: Theme) -> None:
    """Draw a state: a disc with a tick, a triangle, a square with a cross, a ring, a bar."""
    side = min(box.width(), box.height())
    x, y = box.center().x(), box.center().y()
    r = side / 2
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = QColor(colour_of(shape, theme))
    inside = QColor(theme.panel)
    pen = QPen(inside, max(side / 8, 1.4))
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)

    def at(dx: float, dy: float) -> QPointF:
        return QPointF(x + dx * r, y + dy * r)

    if shape is Shape.GOOD:
        painter.drawEllipse(at(0, 0), r, r)
        painter.setPen(pen)
        painter.drawPolyline(QPolygonF([at(-0.45, 0.02), at(-0.12, 0.36), at(0.46, -0.34)]))
    elif shape is Shape.DOUBT:
        painter.drawPolygon(QPolygonF([at(0, -0.95), at(1.0, 0.85), at(-1.0, 0.85)]))
        painter.setPen(pen)
        painter.drawLine(at(0, -0.32), at(0, 0.22))
        painter.drawPoint(at(0, 0.58))
    elif shape is Shape.BAD:
        painter.drawRect(QRectF(at(-0.9, -0.9), at(0.9, 0.9)))
        painter.setPen(pen)
        painter.drawLine(at(-0.4, -0.4), at(0.4, 0.4))
        painter.drawLine(at(-0.4, 0.4), at(0.4, -0.4))
    elif shape is Shape.WAITS:
        ring = QPen(colour, max(side / 9, 1.4))
        painter.setPen(ring)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(at(0, 0), 0.86 * r, 0.86 * r)
        ring.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(ring)
        painter.drawPolyline(QPolygonF([at(0, -0.46), at(0, 0), at(0.34, 0.2)]))
    else:
        painter.drawRoundedRect(QRectF(at(-0.7, -0.16), at(0.7, 0.16)), r / 8, r / 8)
    painter.restore()
