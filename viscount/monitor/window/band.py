"""The band on top: what is in the bag, wanted and held, what each counter has, how it stands."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.numbers import Numbers
from viscount.monitor.theme import Theme
from viscount.monitor.window.shapes import draw_shape
from viscount.monitor.window.sizes import Sizes, fitted, font_of

UNKNOWN = "–"
_SHARES = (0.25, 0.16, 0.13, 0.19, 0.27)
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_TOP = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
_WRAP = Qt.TextFlag.TextWordWrap


class Band(QWidget):
    """Draws the numbers so large that they are read from two metres away."""

    def __init__(self, model: Monitor) -> None:
        super().__init__()
        self._model = model
        self.dress_with: tuple[Theme, Sizes] | None = None

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self.dress_with = theme, sizes
        self.setMinimumHeight(round(self.window().height() * 0.19))
        self.update()

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(1280, 165)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        if self.dress_with is None:
            return
        theme, sizes = self.dress_with
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        numbers = self._model.numbers
        cells = self._cells(sizes)
        first = theme.text
        texts = (
            (numbers.label, _shown(numbers.in_bag), first),
            ("wanted", _shown(numbers.wanted), theme.faint),
            ("held", _shown(numbers.held), theme.faint),
        )
        rooms = [_under_label(cell, sizes) for cell in cells]
        widest = max((value for _, value, _ in texts[1:]), key=len)
        second = min(rooms[1].width(), rooms[2].width()), 0.72 * rooms[1].height()
        fonts = [fitted(_two(texts[0][1]), rooms[0].width(), 0.94 * rooms[0].height())]
        fonts += 2 * [fitted(_two(widest), *second)]
        for cell, font, (label, value, colour) in zip(cells, fonts, texts, strict=False):
            _draw_number(painter, cell, label, value, font, QColor(colour), theme, sizes)
        self._draw_counters(painter, cells[3], numbers, theme, sizes)
        self._draw_state(painter, cells[4], theme, sizes)
        if numbers.bag:
            painter.setFont(font_of(sizes.text))
            painter.setPen(QColor(theme.faint))
            name = QFontMetricsF(font_of(sizes.title, bold=True))
            box = QRectF(cells[0])
            box.setLeft(box.left() + name.horizontalAdvance(numbers.label + "  "))
            box.setHeight(name.height())
            metrics = QFontMetricsF(font_of(sizes.text))
            short = metrics.elidedText(numbers.bag, Qt.TextElideMode.ElideRight, box.width())
            painter.drawText(box, _LEFT, short)
        painter.setPen(QPen(QColor(theme.rule), 1))
        for cell in cells[1:]:
            x = round(cell.left() - sizes.space) + 0.5
            painter.drawLine(QPointF(x, cell.top()), QPointF(x, cell.bottom()))
        painter.end()

    def _cells(self, sizes: Sizes) -> list[QRectF]:
        space = float(sizes.space)
        width = self.width() - 2 * space
        cells, x = [], space
        for share in _SHARES:
            cells.append(QRectF(x, space, share * width - 2 * space, self.height() - 2 * space))
            x += share * width
        return cells

    def _draw_counters(
        self, painter: QPainter, cell: QRectF, numbers: Numbers, theme: Theme, sizes: Sizes
    ) -> None:
        rows = 3
        high = cell.height() / rows
        size = min(0.62 * high, 2.1 * sizes.text)
        mark = 0.36 * size
        camera = QRectF(cell.left(), cell.top(), cell.width(), high)
        beam = camera.translated(0, high)
        x, y = camera.left() + mark, camera.center().y()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.camera))
        painter.drawPolygon(
            QPolygonF(
                [QPointF(x - mark, y - mark), QPointF(x + mark, y - mark), QPointF(x, y + mark)]
            )
        )
        painter.setBrush(QColor(theme.beam))
        y = beam.center().y()
        painter.drawRect(QRectF(x - 0.6 * mark, y - mark, 1.2 * mark, 2 * mark))
        known = numbers.beam is not None
        told = f"{numbers.beam_label} by the beam" if known else "no beam"
        for box, value, label in (
            (camera, str(numbers.camera), "by the camera"),
            (beam, _shown(numbers.beam), told),
        ):
            font = font_of(size, bold=True)
            wide = QFontMetricsF(font).horizontalAdvance(value)
            left = box.left() + 3 * mark
            painter.setFont(font)
            painter.setPen(QColor(theme.text))
            painter.drawText(QRectF(left, box.top(), wide + 4, box.height()), _LEFT, value)
            rest = QRectF(box)
            rest.setLeft(left + wide + 0.5 * size)
            painter.setFont(font_of(sizes.text))
            painter.setPen(QColor(theme.faint))
            short = QFontMetricsF(font_of(sizes.text))
            label = short.elidedText(label, Qt.TextElideMode.ElideRight, rest.width())
            painter.drawText(rest, _LEFT, label)
        text, colour = _compared(numbers, settled=self._model.settled, theme=theme)
        painter.setFont(font_of(sizes.title, bold=True))
        painter.setPen(QColor(colour))
        painter.drawText(beam.translated(0, high), _LEFT, text)

    def _draw_state(self, painter: QPainter, cell: QRectF, theme: Theme, sizes: Sizes) -> None:
        state = self._model.state
        side = min(0.42 * cell.height(), 4.6 * sizes.text)
        top = QRectF(cell.left(), cell.top(), side, side)
        draw_shape(painter, top.adjusted(3, 3, -3, -3), state.shape, theme)
        words = QRectF(cell)
        words.setLeft(top.right() + sizes.space)
        words.setHeight(side)
        font = _wrapped(state.word, words, 1.9 * sizes.text)
        painter.setFont(font)
        painter.setPen(QColor(theme.text))
        painter.drawText(words, _LEFT | _WRAP, state.word)
        rest = QRectF(cell)
        rest.setTop(top.bottom() + 0.8 * sizes.space)
        painter.setFont(_wrapped(state.sentence, rest, sizes.title, bold=False))
        painter.drawText(rest, _TOP | _WRAP, state.sentence)


def _under_label(cell: QRectF, sizes: Sizes) -> QRectF:
    """Return the room for a number under its label."""
    high = QFontMetricsF(font_of(sizes.title, bold=True)).height()
    room = QRectF(cell)
    room.setTop(cell.top() + high + 0.6 * sizes.space)
    return room


def _two(value: str) -> str:
    """Return what a number's room is made for: two digits at least, so that it seldom changes."""
    return "0" * max(len(value), 2)


def _draw_number(
    painter: QPainter,
    cell: QRectF,
    label: str,
    value: str,
    font: QFont,
    colour: QColor,
    theme: Theme,
    sizes: Sizes,
) -> None:
    title = font_of(sizes.title, bold=True)
    high = QFontMetricsF(title).height()
    painter.setFont(title)
    painter.setPen(QColor(theme.text))
    painter.drawText(QRectF(cell.left(), cell.top(), cell.width(), high), _LEFT, label)
    room = _under_label(cell, sizes)
    painter.setFont(font)
    painter.setPen(colour)
    ink = QFontMetricsF(font).tightBoundingRect(value)
    base = room.bottom() - 0.03 * room.height()
    painter.drawText(QPointF(room.left() - ink.left(), base), value)


def _wrapped(text: str, box: QRectF, size: float, *, bold: bool = True) -> QFont:
    """Return the largest font, up to a size, in which a text fits a box in a few lines."""
    while size > 9:
        font = font_of(size, bold=bold)
        needed = QFontMetricsF(font).boundingRect(box, _TOP | _WRAP, text)
        if needed.height() <= box.height() and needed.width() <= box.width() + 1:
            return font
        size -= 1
    return font_of(size, bold=bold)


def _compared(numbers: Numbers, *, settled: bool, theme: Theme) -> tuple[str, str]:
    if numbers.beam is None:
        return "", theme.faint
    apart = numbers.camera - numbers.beam
    if not settled:
        return "parts on their way", theme.faint
    if apart == 0 and numbers.camera == 0:
        return "", theme.faint
    if apart == 0:
        return "= the same", theme.good
    return f"≠ {abs(apart)} {'more' if apart > 0 else 'fewer'} by the camera", theme.differ


def _shown(count: int | None) -> str:
    return UNKNOWN if count is None else str(count)
