"""The window: picture and marks at the left, what they come to at the right."""

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence
from PySide6.QtWidgets import QFrame, QHBoxLayout, QMainWindow, QMessageBox, QVBoxLayout, QWidget

from viscount.errors import ViscountError
from viscount.monitor.setup.looking import Looker, Pictures, Progress
from viscount.monitor.setup.marks import Mark, Marks
from viscount.monitor.setup.problems import problems
from viscount.monitor.setup.saving import Target, save
from viscount.monitor.setup.settings import outlet_now, settings_of
from viscount.monitor.setup.state import SetUp, redone, selecting, undone
from viscount.monitor.setup.stills import Still
from viscount.monitor.setup.verdict import Verdict
from viscount.monitor.setup_view.bars import BottomBar, TopBar
from viscount.monitor.setup_view.canvas import Canvas
from viscount.monitor.setup_view.chosen import Chosen
from viscount.monitor.setup_view.saying import Saying
from viscount.monitor.setup_view.table import MarkTable
from viscount.monitor.theme import Theme

LISTENS_EVERY_MS = 60
_SIDE_EMS = 36


class SetUpWindow(QMainWindow):
    """Marks an outlet in a picture, and writes its file.

    Parameters
    ----------
    setup : what it begins with.
    still : the first picture.
    target : where the marks are written.
    looker : runs the check; None leaves it out.
    theme : the colours.
    title : what is drawn on, in words.
    """

    def __init__(
        self,
        setup: SetUp,
        still: Still,
        target: Target,
        looker: Looker | None,
        theme: Theme,
        title: str,
    ) -> None:
        super().__init__()
        self.setup, self.target = setup, target
        self._looker, self._theme = looker, theme
        self._looked_at: Marks | None = None
        self.written = False
        self.canvas = Canvas(setup, theme, self.become, self._point)
        self.table = MarkTable(setup, theme, self._choose)
        self.chosen = Chosen(setup, theme, self.become)
        self.saying = Saying(theme)
        self.top = TopBar(title, theme, self.become, self.save)
        self.bottom = BottomBar(self.canvas, theme)
        self.setWindowTitle(f"{title}[*] - viscount outlet draw")
        self.setCentralWidget(self._laid_out())
        self._add_keys()
        self.bottom.add((still,))
        self.resize(1280, 800)
        self.become(setup)
        self.canvas.setFocus()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.listen)
        self._timer.start(LISTENS_EVERY_MS)

    def become(self, setup: SetUp) -> None:
        """Show this set-up from now on; have the recording looked at where marks have moved."""
        self.setup = setup
        found = problems(setup)
        self.canvas.show_setup(setup)
        self.table.show_setup(setup, found)
        self.chosen.show_setup(setup)
        self.top.show_setup(setup, self.target.out.name)
        self.setWindowModified(setup.unsaved)
        if setup.hold is None:
            self.saying.show_problems(found)
            self._look()

    def listen(self) -> None:
        """Take what the check has answered meanwhile."""
        if self._looker is None:
            return
        for answer in self._looker.answers():
            if isinstance(answer, Pictures):
                self.bottom.add(answer.stills)
            elif answer.number != self._looker.asked:
                continue
            elif isinstance(answer, Progress):
                self.saying.show_progress(answer.share)
            elif isinstance(answer, Verdict):
                self.saying.show_verdict(answer)

    def save(self) -> bool:
        """Write the outlet file; return whether it was written."""
        name = self.target.out.name
        if self.target.takes_place_of_another:
            text = f"{name} is there already, and was not opened here. Write over all of it?"
            if not self._asked(text, "Write over it"):
                return False
        elif self.target.base is not None and not self.written:
            text = f"Change the marks in {name}? All else in it, remarks too, stays as it is."
            if not self._asked(text, f"Change {name}"):
                return False
        try:
            saved, self.target = save(self.setup, self.target)
        except ViscountError as error:
            self._complain(str(error))
            return False
        self.written = True
        self.bottom.said.setText(f"{name} is written")
        self.become(saved)
        return True

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Ask where something is not saved."""
        if self.setup.unsaved and not self._may_leave():
            event.ignore()
            return
        self._timer.stop()
        event.accept()

    def _laid_out(self) -> QWidget:
        side = QFrame()
        side.setFixedWidth(_SIDE_EMS * self.fontMetrics().horizontalAdvance("m"))
        side.setAutoFillBackground(True)
        side.setObjectName("side")
        theme = self._theme
        side.setStyleSheet(
            f"#side {{ background: {theme.panel}; border-left: 1px solid {theme.rule}; }}"
        )
        column = QVBoxLayout(side)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(10)
        column.addWidget(self.table)
        column.addWidget(self.chosen)
        column.addWidget(_rule(theme))
        column.addWidget(self.saying, 1)
        middle = QHBoxLayout()
        middle.setContentsMargins(0, 0, 0, 0)
        middle.setSpacing(0)
        middle.addWidget(self.canvas, 1)
        middle.addWidget(side)
        whole = QWidget()
        rows = QVBoxLayout(whole)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self.top)
        rows.addWidget(_rule(theme))
        rows.addLayout(middle, 1)
        rows.addWidget(_rule(theme))
        rows.addWidget(self.bottom)
        return whole

    def _add_keys(self) -> None:
        keys: tuple[tuple[str, Callable[[], object], list[str]], ...] = (
            ("Undo", lambda: self.become(undone(self.setup)), ["Ctrl+Z"]),
            ("Redo", lambda: self.become(redone(self.setup)), ["Ctrl+Shift+Z", "Ctrl+Y"]),
            ("Save", self.save, ["Ctrl+S"]),
            ("Close", self.close, ["Ctrl+W", "Ctrl+Q"]),
        )
        for name, act, shortcuts in keys:
            action = QAction(name, self)
            action.setShortcuts([QKeySequence(one) for one in shortcuts])
            action.triggered.connect(lambda _=False, act=act: act())
            self.addAction(action)

    def _choose(self, mark: Mark) -> None:
        self.become(selecting(self.setup, mark))
        self.canvas.setFocus()

    def _point(self, point: tuple[float, float] | None) -> None:
        self.bottom.show_point(point)

    def _look(self) -> None:
        """Have the recording looked at, where the marks say something new."""
        marks = self.setup.now
        if self._looker is None or (
            self._looked_at is not None and settings_of(marks) == settings_of(self._looked_at)
        ):
            return
        self._looked_at = marks
        self._looker.ask(outlet_now(self.setup))
        self.saying.show_progress(0.0)

    def _asked(self, text: str, yes: str) -> bool:
        box = self._box(text)
        agree = box.addButton(yes, QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(box.addButton("Cancel", QMessageBox.ButtonRole.RejectRole))
        box.exec()
        return box.clickedButton() is agree

    def _may_leave(self) -> bool:
        box = self._box(f"Some marks are not saved in {self.target.out.name}.")
        keep = box.addButton("Save", QMessageBox.ButtonRole.AcceptRole)
        leave = box.addButton("Leave without saving", QMessageBox.ButtonRole.DestructiveRole)
        stay = box.addButton("Stay", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(stay)
        box.exec()
        if box.clickedButton() is keep:
            return self.save()
        return box.clickedButton() is leave

    def _complain(self, text: str) -> None:
        box = self._box(text)
        box.addButton("Go on", QMessageBox.ButtonRole.AcceptRole)
        box.exec()

    def _box(self, text: str) -> QMessageBox:
        box = QMessageBox(self)
        box.setWindowTitle("viscount outlet draw")
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setText(text)
        return box


def _rule(theme: Theme) -> QFrame:
    """Return a thin line from side to side."""
    rule = QFrame()
    rule.setFixedHeight(1)
    rule.setStyleSheet(f"background: {theme.rule}")
    return rule
