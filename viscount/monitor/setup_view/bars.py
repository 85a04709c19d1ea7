"""The bars above and below the picture: direction, steps, saving; pictures and zoom."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QWidget,
)

from viscount.monitor.setup.moving import turned
from viscount.monitor.setup.state import SetUp, redone, undone
from viscount.monitor.setup.stills import PATHS, Still
from viscount.monitor.setup_view.canvas import Canvas
from viscount.monitor.theme import Theme
from viscount.values import Falls

_WAYS = {Falls.DOWN: "down", Falls.UP: "up", Falls.LEFT: "left", Falls.RIGHT: "right"}


class TopBar(QWidget):
    """What is drawn on, where parts fall, steps back and forth, and saving."""

    def __init__(
        self,
        title: str,
        theme: Theme,
        changed: Callable[[SetUp], None],
        save: Callable[[], object],
    ) -> None:
        super().__init__()
        self._setup: SetUp | None = None
        self._changed = changed
        self._title = QLabel()
        self._title.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._title.setText(title)
        self._title.setToolTip(title)
        self._title.setStyleSheet("font-weight: bold")
        self._group = QButtonGroup(self)
        self.ways: dict[Falls, QPushButton] = {}
        ways = QHBoxLayout()
        ways.setSpacing(0)
        for number, (way, word) in enumerate(_WAYS.items()):
            button = QPushButton(word)
            button.setCheckable(True)
            button.setAccessibleName(f"parts fall {word}")
            button.setStyleSheet(_segment(theme, first=number == 0, last=number == len(_WAYS) - 1))
            button.clicked.connect(lambda _=False, way=way: self._turn(way))
            self._group.addButton(button)
            self.ways[way] = button
            ways.addWidget(button)
        self.undo, self.redo = QPushButton("Undo"), QPushButton("Redo")
        self.undo.setToolTip("Take the last step back (Ctrl+Z)")
        self.redo.setToolTip("Take it again (Ctrl+Shift+Z)")
        self.save = QPushButton("Save")
        self.save.setToolTip("Write the outlet file (Ctrl+S)")
        self.undo.clicked.connect(lambda: self._step(undone))
        self.redo.clicked.connect(lambda: self._step(redone))
        self.save.clicked.connect(save)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.setSpacing(8)
        layout.addWidget(self._title, 1)
        layout.addWidget(QLabel("Parts fall"))
        layout.addLayout(ways)
        layout.addSpacing(12)
        layout.addWidget(self.undo)
        layout.addWidget(self.redo)
        layout.addSpacing(12)
        layout.addWidget(self.save)

    def show_setup(self, setup: SetUp, file: str) -> None:
        """Show this set-up, and the file it will be written to."""
        self._setup = setup
        self.ways[setup.now.direction].setChecked(True)
        self.undo.setEnabled(bool(setup.past) and setup.hold is None)
        self.redo.setEnabled(bool(setup.future) and setup.hold is None)
        self.save.setText(f"Save {file}")
        self.save.setEnabled(setup.unsaved)

    def _turn(self, way: Falls) -> None:
        if self._setup is not None:
            self._changed(turned(self._setup, way))

    def _step(self, step: Callable[[SetUp], SetUp]) -> None:
        if self._setup is not None:
            self._changed(step(self._setup))


class BottomBar(QWidget):
    """Which picture is drawn on, where the mouse is, and the zoom."""

    def __init__(self, canvas: Canvas, theme: Theme) -> None:
        super().__init__()
        self._canvas = canvas
        self._stills: list[Still] = []
        self.pictures = QComboBox()
        self.pictures.setAccessibleName("picture to draw on")
        self.pictures.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.pictures.currentIndexChanged.connect(self._show)
        self.pictures.activated.connect(self._pick)
        self._picked = False
        self.point = QLabel()
        self.point.setStyleSheet(f"color: {theme.faint}")
        self.said = QLabel()
        self.said.setStyleSheet(f"color: {theme.faint}")
        self.said.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 6, 12, 6)
        layout.setSpacing(8)
        layout.addWidget(QLabel("Picture"))
        layout.addWidget(self.pictures)
        layout.addSpacing(8)
        layout.addWidget(self.said, 1)
        layout.addWidget(self.point)
        layout.addSpacing(8)
        for text, tip, act in (
            ("\u2212", "Zoom out (\u2212)", lambda: canvas.zoom(1 / 1.2)),
            ("+", "Zoom in (+)", lambda: canvas.zoom(1.2)),
            ("1:1", "One px of the picture as one of the window", canvas.full_size),
            ("Fit", "The whole picture (0)", canvas.fit),
        ):
            button = QPushButton(text)
            button.setToolTip(tip)
            button.setAccessibleName(tip)
            button.setFixedWidth(max(button.fontMetrics().horizontalAdvance(text) + 24, 36))
            button.clicked.connect(lambda _=False, act=act: act())
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            layout.addWidget(button)

    def add(self, stills: tuple[Still, ...]) -> None:
        """Offer these pictures; that of all paths is shown unless the user has chosen one."""
        names = {still.name for still in self._stills}
        for still in stills:
            if still.name not in names:
                self._stills.append(still)
                self.pictures.addItem(still.name)
        paths = self.pictures.findText(PATHS)
        if paths >= 0 and not self._picked:
            self.pictures.setCurrentIndex(paths)

    def show_point(self, point: tuple[float, float] | None) -> None:
        """Show where the mouse is, in px of the picture."""
        self.point.setText("" if point is None else f"x {point[0]:.0f}   y {point[1]:.0f}")

    def _show(self, index: int) -> None:
        if 0 <= index < len(self._stills):
            self._canvas.show_picture(self._stills[index].pixels)

    def _pick(self, index: int) -> None:
        self._picked = True
        self._canvas.setFocus()


def _segment(theme: Theme, *, first: bool, last: bool) -> str:
    """Return the style of one of several joined buttons."""
    left, right = ("4px" if first else "0"), ("4px" if last else "0")
    return (
        f"QPushButton {{ padding: 4px 12px; border: 1px solid {theme.rule}; color: {theme.text};"
        f" background: {theme.panel}; border-left-width: {'1px' if first else '0'};"
        f" border-top-left-radius: {left}; border-bottom-left-radius: {left};"
        f" border-top-right-radius: {right}; border-bottom-right-radius: {right}; }}"
        f"QPushButton:checked {{ background: {theme.camera}; color: {theme.background};"
        f" border-color: {theme.camera}; }}"
        f"QPushButton:focus {{ border-color: {theme.text}; border-width: 1px; }}"
    )
