"""The marks as rows to choose from: name, value as it will be written, and what that comes to."""

from collections.abc import Callable

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.problems import Problem
from viscount.monitor.setup.rows import Row, rows
from viscount.monitor.setup.state import SetUp
from viscount.monitor.setup_view.painting import STYLES, colour_of
from viscount.monitor.theme import Theme
from viscount.values import Level


class MarkRow(QWidget):
    """One mark.

    Parameters
    ----------
    row : what it says first.
    number : the key that selects it.
    theme : the colours.
    chosen : is called when the user chooses it.
    """

    def __init__(self, row: Row, number: int, theme: Theme, chosen: Callable[[Mark], None]) -> None:
        super().__init__()
        self._row, self._number, self._theme, self._chosen = row, number, theme, chosen
        self._selected = False
        self._level: Level | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._tell()

    def show_row(self, row: Row, *, selected: bool, level: Level | None) -> None:
        """Show this from now on; `level` is that of the gravest problem with it."""
        self._row, self._selected, self._level = row, selected, level
        self._tell()
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Two lines, with some room."""
        return QSize(300, round(2.9 * self.fontMetrics().height()))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Choose it."""
        self._chosen(self._row.mark)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw."""
        painter, theme, row = QPainter(self), self._theme, self._row
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(0.5, 1.5, -0.5, -1.5)
        colour = colour_of(row.mark, theme)
        if self._selected:
            painter.setBrush(QColor(theme.background))
            painter.setPen(QPen(colour, 1.5))
            painter.drawRoundedRect(box, 4, 4)
        tall, left = box.height() / 2, box.left() + 46
        upper = QRectF(left, box.top() + 3, box.right() - left - 10, tall - 3)
        lower = QRectF(left, box.top() + tall - 1, box.right() - left - 10, tall - 3)
        self._swatch(painter, QRectF(box.left() + 10, upper.top(), 26, upper.height()))
        middle = Qt.AlignmentFlag.AlignVCenter
        bold, mono = QFont(self.font()), QFont("monospace")
        bold.setBold(True)
        mono.setStyleHint(QFont.StyleHint.Monospace)
        mono.setPointSizeF(self.font().pointSizeF())
        painter.setFont(bold)
        painter.setPen(QColor(theme.text))
        painter.drawText(upper, middle | Qt.AlignmentFlag.AlignLeft, row.mark.value)
        used = QFontMetricsF(bold).horizontalAdvance(row.mark.value) + 12
        if not row.is_open:
            painter.setFont(mono)
            room = upper.width() - used
            text = f"{row.key}: {row.value}"
            text = QFontMetricsF(mono).elidedText(text, Qt.TextElideMode.ElideLeft, room)
            painter.drawText(upper, middle | Qt.AlignmentFlag.AlignRight, text)
        painter.setFont(self.font())
        painter.setPen(QColor(theme.faint))
        painter.drawText(lower, middle | Qt.AlignmentFlag.AlignLeft, row.note)
        self._state(painter, lower)
        painter.end()

    def _swatch(self, painter: QPainter, where: QRectF) -> None:
        """Draw the mark as it is drawn in the picture."""
        colour = colour_of(self._row.mark, self._theme)
        painter.setPen(QPen(colour, 2.0, STYLES[self._row.mark]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        middle = where.center().y()
        if self._row.mark.framed:
            painter.drawRect(QRectF(where.left() + 4, middle - 5, where.width() - 8, 10))
            return
        strokes = [QLineF(where.left(), middle, where.right(), middle)]
        if self._row.mark is Mark.SCALE:
            strokes += [
                QLineF(QPointF(x, middle - 5), QPointF(x, middle + 5))
                for x in (where.left() + 1, where.right() - 1)
            ]
        painter.drawLines(strokes)

    def _state(self, painter: QPainter, where: QRectF) -> None:
        """Say at the right whether something is wrong."""
        if self._level is None:
            return
        grave = self._level is Level.INVALID
        painter.setPen(QColor(self._theme.bad if grave else self._theme.doubt))
        right = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight
        painter.drawText(where, right, "see below")

    def _tell(self) -> None:
        row = self._row
        said = row.note if row.is_open else f"{row.value}, {row.note}"
        self.setAccessibleName(f"{row.mark.value}: {said}")
        self.setToolTip(f"{row.key}   (key {self._number})")


class MarkTable(QWidget):
    """All marks, one below the other."""

    def __init__(self, setup: SetUp, theme: Theme, chosen: Callable[[Mark], None]) -> None:
        super().__init__()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.rows: dict[Mark, MarkRow] = {}
        for number, row in enumerate(rows(setup), start=1):
            self.rows[row.mark] = MarkRow(row, number, theme, chosen)
            layout.addWidget(self.rows[row.mark])

    def show_setup(self, setup: SetUp, found: tuple[Problem, ...]) -> None:
        """Show this set-up, and what is wrong with it."""
        levels: dict[Mark, Level] = {}
        for problem in found:
            levels.setdefault(problem.mark, problem.level)
        for row in rows(setup):
            selected, level = setup.selected is row.mark, levels.get(row.mark)
            self.rows[row.mark].show_row(row, selected=selected, level=level)
