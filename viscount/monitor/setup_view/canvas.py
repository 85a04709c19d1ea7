"""The picture with its marks: drawn, dragged, zoomed."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from viscount.monitor.setup.gripping import Grip, Handle, grip_at
from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.moving import begun, cleared, dropped, grabbed, let_be, nudged, pulled
from viscount.monitor.setup.showing import Margins, Showing, fitted, panned, zoomed
from viscount.monitor.setup.state import SetUp, selecting
from viscount.monitor.setup_view.painting import Ground, name_room, paint_marks
from viscount.monitor.theme import Theme

_REACH = 7.0
"""So close to a mark, in px of the window, the mouse can take hold of it."""
_ONE_NOTCH = 1.2
_FAR_STEP = 10

_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}
_NUMBERS = {Qt.Key(Qt.Key.Key_1 + place): mark for place, mark in enumerate(Mark)}


class Canvas(QWidget):
    """Shows a set-up, and says what the user makes of it.

    Parameters
    ----------
    setup : what is shown first.
    theme : the colours.
    changed : is called with each new set-up.
    pointed : is called with the point of the picture under the mouse, or None.
    """

    def __init__(
        self,
        setup: SetUp,
        theme: Theme,
        changed: Callable[[SetUp], None],
        pointed: Callable[[tuple[float, float] | None], None],
    ) -> None:
        super().__init__()
        self._setup, self._theme = setup, theme
        self._changed, self._pointed = changed, pointed
        self._pixmap = QPixmap()
        self._showing = Showing(zoom=1.0, left=0.0, top=0.0)
        self._fits = True
        self._pressed: QPointF | None = None
        self._panning: QPointF | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(320, 240))
        self.setAccessibleName("picture with marks")

    @property
    def showing(self) -> Showing:
        """How the picture lies in the canvas."""
        return self._showing

    def show_setup(self, setup: SetUp) -> None:
        """Draw this set-up from now on."""
        turned = setup.now.direction.vertical != self._setup.now.direction.vertical
        self._setup = setup
        if self._fits and (turned or setup.hold is None):
            self.fit()
        self.update()

    def show_picture(self, pixels: NDArray[np.uint8]) -> None:
        """Draw this picture, (H, W), from now on."""
        height, width = pixels.shape
        image = QImage(pixels.tobytes(), width, height, width, QImage.Format.Format_Grayscale8)
        self._pixmap = QPixmap.fromImage(image)
        self.update()

    def fit(self) -> None:
        """Show the whole picture, and the marks outside it."""
        em = self.fontMetrics().height()
        across, along = name_room(self.font()), 1.6 * em
        margins = (
            Margins(left=across, top=along, right=across, bottom=along)
            if self._setup.now.direction.vertical
            else Margins(left=along, top=3.4 * em, right=along, bottom=3.4 * em)
        )
        self._fits = True
        self._showing = fitted(self._setup, self.width(), self.height(), margins)
        self.update()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom by a factor round a point of the canvas, its middle if none is given."""
        at = at or QPointF(self.width() / 2, self.height() / 2)
        self._fits = False
        self._showing = zoomed(self._showing, factor, at.x(), at.y())
        self.update()

    def full_size(self) -> None:
        """Show each px of the picture as one of the window."""
        self.zoom(1.0 / self._showing.zoom)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.background))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        shrunk = self._showing.zoom < 2
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, shrunk)
        ground = Ground(
            painter=painter,
            setup=self._setup,
            showing=self._showing,
            size=QRectF(self.rect()),
            theme=self._theme,
            font=self.font(),
        )
        if not self._pixmap.isNull():
            painter.drawPixmap(ground.picture, self._pixmap, QRectF(self._pixmap.rect()))
        paint_marks(ground)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Keep the whole picture in view, if it was."""
        super().resizeEvent(event)
        if self._fits:
            self.fit()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Take hold of a mark, begin one that is open, or pan."""
        self.setFocus()
        at = event.position()
        if event.button() is Qt.MouseButton.MiddleButton:
            self._panning = at
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            return
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        x, y = self._showing.to_picture(at.x(), at.y())
        setup, selected = self._setup, self._setup.selected
        if selected is not None and self._is_to_place(selected):
            self._pressed = at
            self._changed(begun(setup, selected, x, y))
            return
        grip = self._grip(at)
        if grip is not None:
            self._pressed = at
            self._changed(grabbed(setup, grip))
            return
        self._panning = at
        self.setCursor(Qt.CursorShape.ClosedHandCursor)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Drag what is held, pan, or show what could be held."""
        at = event.position()
        self._pointed(self._showing.to_picture(at.x(), at.y()))
        if self._panning is not None:
            moved = at - self._panning
            self._panning, self._fits = at, False
            self._showing = panned(self._showing, moved.x(), moved.y())
            self.update()
        elif self._pressed is not None:
            moved = (at - self._pressed) / self._showing.zoom
            self._changed(pulled(self._setup, moved.x(), moved.y()))
        else:
            self._show_cursor(at)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Let go."""
        if self._panning is not None:
            self._panning = None
        elif self._pressed is not None:
            self._pressed = None
            self._changed(dropped(self._setup))
        self._show_cursor(event.position())

    def leaveEvent(self, event: object) -> None:  # noqa: N802
        """Nothing is pointed at any more."""
        self._pointed(None)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Zoom round the mouse."""
        notches = event.angleDelta().y() / 120.0
        if notches:
            self.zoom(_ONE_NOTCH**notches, event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Nudge, select, clear, let be, zoom."""
        key, setup = Qt.Key(event.key()), self._setup
        if key in _ARROWS:
            far = _FAR_STEP if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            right, down = _ARROWS[key]
            self._changed(nudged(setup, far * right, far * down))
        elif key in _NUMBERS:
            self._changed(selecting(setup, _NUMBERS[key]))
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and setup.selected is not None:
            self._changed(cleared(setup, setup.selected))
        elif key == Qt.Key.Key_Escape:
            self._pressed = None
            self._changed(let_be(setup) if setup.hold else selecting(setup, None))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(_ONE_NOTCH)
        elif key == Qt.Key.Key_Minus:
            self.zoom(1 / _ONE_NOTCH)
        elif key == Qt.Key.Key_0:
            self.fit()
        else:
            super().keyPressEvent(event)

    def _is_to_place(self, mark: Mark) -> bool:
        """Whether pressing places this mark: it is open, or nothing of it is in the picture."""
        now = self._setup.now
        return now.is_open(mark) or (mark is Mark.SCALE and now.ruler is None)

    def _grip(self, at: QPointF) -> Grip | None:
        x, y = self._showing.to_picture(at.x(), at.y())
        reach = _REACH / self._showing.zoom
        return grip_at(self._setup.now, x, y, reach_px=reach, first=self._setup.selected)

    def _show_cursor(self, at: QPointF) -> None:
        selected = self._setup.selected
        if selected is not None and self._is_to_place(selected):
            self.setCursor(Qt.CursorShape.CrossCursor)
            return
        grip = self._grip(at)
        if grip is None:
            self.setCursor(Qt.CursorShape.OpenHandCursor)
        elif grip.mark.crosses:
            upright = self._setup.now.direction.vertical
            self.setCursor(
                Qt.CursorShape.SizeVerCursor if upright else Qt.CursorShape.SizeHorCursor
            )
        else:
            self.setCursor(_CURSORS.get(grip.handle, Qt.CursorShape.SizeAllCursor))


_CURSORS = {
    Handle.X0: Qt.CursorShape.SizeHorCursor,
    Handle.X1: Qt.CursorShape.SizeHorCursor,
    Handle.Y0: Qt.CursorShape.SizeVerCursor,
    Handle.Y1: Qt.CursorShape.SizeVerCursor,
    Handle.X0Y0: Qt.CursorShape.SizeFDiagCursor,
    Handle.X1Y1: Qt.CursorShape.SizeFDiagCursor,
    Handle.X1Y0: Qt.CursorShape.SizeBDiagCursor,
    Handle.X0Y1: Qt.CursorShape.SizeBDiagCursor,
}
