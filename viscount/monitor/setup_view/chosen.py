"""The card of the selected mark: how to set it, and what only it has."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDoubleSpinBox, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.moving import can_clear, cleared, measured
from viscount.monitor.setup.rows import how
from viscount.monitor.setup.state import SetUp
from viscount.monitor.theme import Theme

_MOVES = "Drag it, or use the arrow keys (with Shift by 10 px)."


class Chosen(QWidget):
    """Says how the selected mark is set, and takes the ruler's length."""

    def __init__(self, setup: SetUp, theme: Theme, changed: Callable[[SetUp], None]) -> None:
        super().__init__()
        self._setup, self._changed = setup, changed
        self._hint = QLabel()
        self._hint.setWordWrap(True)
        self._hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._hint.setFixedHeight(round(2.3 * self.fontMetrics().lineSpacing()))
        self._hint.setStyleSheet(f"color: {theme.faint}")
        self._is = QLabel("It is")
        self.length = QDoubleSpinBox()
        self.length.setRange(0.0, 10_000.0)
        self.length.setDecimals(2)
        self.length.setSuffix(" mm long")
        self.length.setSpecialValueText("not yet known")
        self.length.setKeyboardTracking(False)
        self.length.setAccessibleName("length of the segment in mm")
        self.length.valueChanged.connect(self._typed)
        self.clear = QPushButton("Leave open")
        self.clear.setToolTip("Take the mark out again (Delete)")
        self.clear.clicked.connect(self._clear)
        below = QHBoxLayout()
        below.addWidget(self._is)
        below.addWidget(self.length)
        below.addStretch(1)
        below.addWidget(self.clear)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self._hint)
        layout.addLayout(below)
        # The room stays the same, whichever mark is selected.
        for one in (self._is, self.length):
            policy = one.sizePolicy()
            policy.setRetainSizeWhenHidden(True)
            one.setSizePolicy(policy)
        self.show_setup(setup)

    @property
    def hint(self) -> str:
        """What is said of the selected mark."""
        return self._hint.text()

    def show_setup(self, setup: SetUp) -> None:
        """Show this set-up's selected mark."""
        self._setup = setup
        mark = setup.selected
        self.clear.setEnabled(mark is not None and can_clear(setup, mark))
        ruler = setup.now.ruler
        asks = mark is Mark.SCALE and ruler is not None
        self._is.setVisible(asks)
        self.length.setVisible(asks)
        if ruler is not None and not self.length.hasFocus():
            self.length.blockSignals(True)
            self.length.setValue(ruler.mm or 0.0)
            self.length.blockSignals(False)
        self._hint.setText(self._words(mark))

    def _words(self, mark: Mark | None) -> str:
        if mark is None:
            return "Choose a mark above, or drag one in the picture."
        if self._setup.now.is_open(mark) or (mark is Mark.SCALE and self._setup.now.ruler is None):
            return how(mark)
        if not can_clear(self._setup, mark):
            return f"{_MOVES} The outlet file says more of the {mark.value}, so it needs a place."
        return _MOVES

    def _typed(self, mm: float) -> None:
        self._changed(measured(self._setup, mm))

    def _clear(self) -> None:
        if self._setup.selected is not None:
            self._changed(cleared(self._setup, self._setup.selected))
