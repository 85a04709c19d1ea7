"""How camera, beam and gate stand, in words, with what to do."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from viscount.monitor.model.monitor import Monitor
from viscount.monitor.theme import Theme
from viscount.monitor.window.shapes import draw_shape
from viscount.monitor.window.sizes import Sizes, font_of

_TOP = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
_WRAP = Qt.TextFlag.TextWordWrap


class ThingsView(QWidget):
    """Draws a row for each thing."""

    def __init__(self, model: Monitor) -> None:
        super().__init__()
        self._model = model
        self._theme: Theme | None = None
        self._sizes = Sizes(13.0)

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme, self._sizes = theme, sizes
        self.update()

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(320, 150)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        theme, text = self._theme, self._sizes.text
        if theme is None:
            return
        painter = QPainter(self)
        things = self._model.things
        high = self.height() / len(things)
        side = 1.25 * text
        name_wide = 4.8 * text
        for row, one in enumerate(things):
            top = row * high
            mark = QRectF(0.2 * text, top + 0.15 * text, side, side)
            draw_shape(painter, mark, one.shape, theme)
            left = mark.right() + 0.7 * text
            painter.setFont(font_of(text, bold=True))
            painter.setPen(QColor(theme.text))
            painter.drawText(QRectF(left, top, name_wide, high), _TOP, one.name)
            room = QRectF(left + name_wide, top, self.width() - left - name_wide, high - 2)
            said = f"{one.words}; {one.remedy}" if one.remedy else one.words
            size = text
            while size > 0.72 * text:
                need = QFontMetricsF(font_of(size)).boundingRect(room, int(_TOP | _WRAP), said)
                if need.height() <= room.height():
                    break
                size -= 0.5
            painter.setFont(font_of(size))
            painter.drawText(room, int(_TOP | _WRAP), said)
        painter.end()
