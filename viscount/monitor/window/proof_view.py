"""The frames that show a doubt, side by side, with what it is and what to do."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from viscount.monitor.model.doubts import Doubt
from viscount.monitor.model.proof import Small
from viscount.monitor.model.scenery import Scenery
from viscount.monitor.theme import Theme
from viscount.monitor.window.doubt_list import SHAPES
from viscount.monitor.window.shapes import draw_shape
from viscount.monitor.window.sizes import Sizes, font_of

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter
_WRAP = Qt.TextFlag.TextWordWrap


class ProofView(QWidget):
    """Covers the middle of the window while a doubt is looked at."""

    left = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.doubt: Doubt | None = None
        self.pictures: tuple[Small, ...] = ()
        self._scenery: Scenery | None = None
        self._theme: Theme | None = None
        self._sizes = Sizes(13.0)
        self._path: NDArray[np.float64] | None = None
        self.hide()

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme, self._sizes = theme, sizes
        self.update()

    def show_doubt(
        self,
        doubt: Doubt,
        pictures: tuple[Small, ...],
        scenery: Scenery | None,
        path: NDArray[np.float64] | None = None,
    ) -> None:
        """Show a doubt with its frames.

        `path` is where the part is in each of them, (n, 2) as for `Trains.path`.
        """
        self.doubt, self.pictures, self._scenery = doubt, pictures, scenery
        self._path = path
        self.show()
        self.raise_()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Leave."""
        self.left.emit()

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(800, 400)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        doubt, theme, sizes = self.doubt, self._theme, self._sizes
        if doubt is None or theme is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        space, text = float(sizes.space), sizes.text
        frame = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(QPen(QColor(theme.camera), 2))
        painter.setBrush(QColor(theme.panel))
        painter.drawRoundedRect(frame, space / 2, space / 2)
        inside = frame.adjusted(1.5 * space, space, -1.5 * space, -space)
        side = 2.4 * text
        mark = QRectF(inside.left(), inside.top() + 0.2 * text, side, side)
        draw_shape(painter, mark, SHAPES[doubt.level], theme)
        words = QRectF(inside)
        words.setLeft(mark.right() + 1.5 * space)
        when = "about the whole run" if doubt.t_s is None else f"at {doubt.t_s:.3f} s"
        y = inside.top()
        for line, size, bold, colour in (
            (f"{doubt.title} ({when})", 1.25 * text, True, theme.text),
            (doubt.detail, text, False, theme.text),
            (f"What to do: {doubt.remedy}" if doubt.remedy else "", text, False, theme.text),
        ):
            if not line:
                continue
            font = font_of(size, bold=bold)
            box = QRectF(words.left(), y, words.width(), 400)
            need = QFontMetricsF(font).boundingRect(box, int(_WRAP), line)
            painter.setFont(font)
            painter.setPen(QColor(colour))
            painter.drawText(box, _WRAP, line)
            y += need.height() + 0.35 * text
        hint = "Esc or a click closes this; N goes to the next one"
        foot = QRectF(inside.left(), inside.bottom() - 1.4 * text, inside.width(), 1.4 * text)
        painter.setFont(font_of(sizes.small))
        painter.setPen(QColor(theme.faint))
        painter.drawText(foot, _LEFT, hint)
        room = QRectF(inside.left(), y + space, inside.width(), foot.top() - y - 1.5 * space)
        self._draw_film(painter, room, theme)
        painter.end()

    def _draw_film(self, painter: QPainter, room: QRectF, theme: Theme) -> None:
        text = self._sizes.text
        if not self.pictures:
            doubt = self.doubt
            why = "no frames were kept of it"
            if doubt is not None and doubt.t_s is None:
                why = "it is about the run as a whole: no single frames show it"
            painter.setFont(font_of(text))
            painter.setPen(QColor(theme.faint))
            painter.drawText(room, _CENTRE, why)
            return
        count, label = len(self.pictures), 1.6 * text
        height, width = self.pictures[0].pixels.shape
        gap = 0.5 * text
        high, wide, columns = _fitted(count, width / height, room, label, gap)
        rows = -(-count // columns)
        across = columns * wide + (columns - 1) * gap
        left = room.left() + max((room.width() - across) / 2, 0.0)
        top = room.top() + max((room.height() - rows * (high + label)) / 2, 0.0)
        for k, one in enumerate(self.pictures):
            row, column = divmod(k, columns)
            box = QRectF(left + column * (wide + gap), top + row * (high + label), wide, high)
            painter.drawImage(box, _image(one))
            self._draw_line(painter, box, theme)
            if self._path is not None:
                self._draw_part(painter, box, self._path[k], theme)
            painter.setPen(QPen(QColor(theme.rule), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(box)
            painter.setFont(font_of(0.82 * text))
            painter.setPen(QColor(theme.faint))
            below = QRectF(box.left() - gap / 2, box.bottom(), wide + gap, label)
            painter.drawText(below, _CENTRE, str(one.index))

    def _draw_line(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        scenery = self._scenery
        if scenery is None:
            return
        share = (scenery.line_px + 0.5) / scenery.along_px
        painter.setPen(QPen(QColor(theme.line), 1.6))
        if scenery.falls.vertical:
            y = box.top() + share * box.height()
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        else:
            x = box.left() + share * box.width()
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))

    def _draw_part(
        self, painter: QPainter, box: QRectF, at: NDArray[np.float64], theme: Theme
    ) -> None:
        """Draw a ring about the part, where it is in the picture."""
        scenery = self._scenery
        if scenery is None:
            return
        along = scenery.line_px + scenery.falls.sign * at[1]
        if not -0.5 < along < scenery.along_px - 0.5:
            return
        x, y = (at[0], along) if scenery.falls.vertical else (along, at[0])
        height, width = scenery.shape
        share = box.height() / height
        centre = QPointF(
            box.left() + (x + 0.5) * box.width() / width, box.top() + (y + 0.5) * share
        )
        ring = max(0.9 * self._sizes.text, 0.09 * min(box.width(), box.height()))
        painter.setPen(QPen(QColor(theme.differ), 2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.save()
        painter.setClipRect(box)
        painter.drawEllipse(centre, ring, ring)
        painter.restore()


def _fitted(
    count: int, aspect: float, room: QRectF, label: float, gap: float
) -> tuple[float, float, int]:
    """Return height, width and columns with which so many pictures are largest."""
    best = (1.0, aspect, count)
    for columns in range(1, count + 1):
        rows = -(-count // columns)
        wide = (room.width() - (columns - 1) * gap) / columns
        high = (room.height() - rows * label) / rows
        high = min(high, wide / aspect)
        if high > best[0]:
            best = (high, high * aspect, columns)
    return best


def _image(one: Small) -> QImage:
    pixels = np.ascontiguousarray(one.pixels)
    height, width = pixels.shape
    shared = QImage(pixels.data, width, height, width, QImage.Format.Format_Grayscale8)
    image: QImage = shared.copy()
    return image
