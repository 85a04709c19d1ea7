"""The list of what to look at; a click shows why."""

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from viscount.monitor.model.doubts import Doubt
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.standing import Shape
from viscount.monitor.theme import Theme
from viscount.monitor.window.shapes import draw_shape
from viscount.monitor.window.sizes import Sizes, font_of
from viscount.values import Level

SHAPES = {Level.INFO: Shape.OFF, Level.DOUBT: Shape.DOUBT, Level.INVALID: Shape.BAD}
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_DATA = Qt.ItemDataRole.UserRole


class _Drawn(QStyledItemDelegate):
    """Draws one line: a shape, when, what, and the figures below it."""

    def __init__(self) -> None:
        super().__init__()
        self.theme: Theme | None = None
        self.sizes = Sizes(13.0)

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        """Return the size of a line."""
        return QSize(100, round(3.3 * self.sizes.text))

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        """Draw a line."""
        doubt, theme, sizes = index.data(_DATA), self.theme, self.sizes
        if theme is None or not isinstance(doubt, Doubt):
            return
        box, text = QRectF(option.rect), sizes.text
        painter.save()
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(theme.background))
            painter.fillRect(QRectF(box.left(), box.top(), 3, box.height()), QColor(theme.camera))
        side = 1.25 * text
        left = box.left() + 0.8 * text
        mark = QRectF(left, box.center().y() - side / 2, side, side)
        draw_shape(painter, mark, SHAPES[doubt.level], theme)
        left = mark.right() + 0.8 * text
        when = "whole run" if doubt.t_s is None else f"{doubt.t_s:.3f} s"
        half = box.height() / 2
        column = 6.3 * text
        upper = QRectF(left + column, box.top(), box.right() - left - column - 0.5 * text, half)
        lower = upper.translated(0, half - 0.25 * text)
        upper.translate(0, 0.15 * text)
        painter.setPen(QColor(theme.faint))
        painter.setFont(font_of(sizes.text))
        painter.drawText(QRectF(left, upper.top(), column, half), _LEFT, when)
        font = font_of(sizes.text, bold=True)
        painter.setFont(font)
        painter.setPen(QColor(theme.text))
        painter.drawText(upper, _LEFT, _short(doubt.title, font, upper.width()))
        font = font_of(sizes.small)
        painter.setFont(font)
        painter.setPen(QColor(theme.faint))
        painter.drawText(lower, _LEFT, _short(doubt.detail or doubt.remedy, font, lower.width()))
        painter.restore()


def _short(text: str, font: QFont, width: float) -> str:
    return str(QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, width))


class DoubtList(QListWidget):
    """Lists what to look at, the newest first in a live run, in order of time when played."""

    chosen = Signal(object)

    def __init__(self, model: Monitor, *, newest_first: bool) -> None:
        super().__init__()
        self._model = model
        self._newest_first = newest_first
        self._numbers: list[int] = []
        self._drawn = _Drawn()
        self.setItemDelegate(self._drawn)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.itemClicked.connect(lambda item: self.chosen.emit(item.data(_DATA)))

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._drawn.theme, self._drawn.sizes = theme, sizes
        self.setStyleSheet(
            f"QListWidget {{ background: {theme.panel}; border: none; outline: none; }}"
        )
        self.setUniformItemSizes(False)
        self.doItemsLayout()
        self.setUniformItemSizes(True)

    def draw(self) -> None:
        """Show what is new; what is chosen stays chosen."""
        doubts = list(self._model.doubts)
        if self._newest_first:
            doubts.reverse()
        else:
            doubts.sort(key=lambda d: (d.t_s is None, d.t_s or 0.0))
        numbers = [one.number for one in doubts]
        if numbers == self._numbers:
            return
        self._numbers = numbers
        chosen = self.current()
        self.clear()
        for one in doubts:
            item = QListWidgetItem()
            item.setData(_DATA, one)
            item.setToolTip(one.remedy)
            self.addItem(item)
        if chosen is not None:
            self.choose(chosen)

    def current(self) -> Doubt | None:
        """Return the one that is chosen."""
        item = self.currentItem()
        found = None if item is None else item.data(_DATA)
        return found if isinstance(found, Doubt) else None

    def choose(self, doubt: Doubt) -> None:
        """Mark one as chosen."""
        for row in range(self.count()):
            if self.item(row).data(_DATA).number == doubt.number:
                self.setCurrentRow(row)
                return

    def neighbour(self, way: int) -> Doubt | None:
        """Return the next one of the list, or the one before; around at its end."""
        if not self.count():
            return None
        row = self.currentRow()
        at = (row + way) % self.count() if row >= 0 else (0 if way > 0 else self.count() - 1)
        found = self.item(at).data(_DATA)
        return found if isinstance(found, Doubt) else None
