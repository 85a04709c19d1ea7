"""What is wrong with the marks, and what the check says, as text beside the picture."""

import html

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from viscount.monitor.setup.problems import Problem
from viscount.monitor.setup.verdict import Sentence, Verdict
from viscount.monitor.theme import Theme
from viscount.values import Level, Status


class Saying(QWidget):
    """The check's headline, and sentences below it."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._problems: tuple[Problem, ...] = ()
        self._verdict: Verdict | None = None
        self._title = QLabel("What the check says")
        self._title.setStyleSheet("font-weight: bold")
        self._progress = QProgressBar()
        self._progress.setTextVisible(False)
        self._progress.setFixedHeight(6)
        self._progress.setAccessibleName("how far the check is")
        policy = self._progress.sizePolicy()
        policy.setRetainSizeWhenHidden(True)
        self._progress.setSizePolicy(policy)
        self._progress.setStyleSheet(
            f"QProgressBar {{ border: none; background: {theme.rule}; border-radius: 3px; }}"
            f"QProgressBar::chunk {{ background: {theme.camera}; border-radius: 3px; }}"
        )
        self.headline = QLabel("looking at the recording")
        self.headline.setWordWrap(True)
        self.text = QTextBrowser()
        self.text.setFrameShape(QFrame.Shape.NoFrame)
        self.text.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.text.document().setDocumentMargin(0)
        self.text.setAccessibleName("what the check says")
        top = QHBoxLayout()
        top.setSpacing(12)
        top.addWidget(self._title)
        top.addWidget(self._progress, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        layout.addLayout(top)
        layout.addWidget(self.headline)
        layout.addWidget(self.text, 1)

    @property
    def is_up_to_date(self) -> bool:
        """Whether the check has answered the last question."""
        return self._verdict is not None and self._progress.isHidden()

    def show_progress(self, share: float | None) -> None:
        """Show how far the check is; None where nobody knows."""
        self._progress.setVisible(True)
        self._progress.setRange(0, 0 if share is None else 1000)
        if share is not None:
            self._progress.setValue(round(1000 * share))

    def show_problems(self, found: tuple[Problem, ...]) -> None:
        """Show what is wrong with the marks themselves."""
        if found != self._problems:
            self._problems = found
            self._write()

    def show_verdict(self, verdict: Verdict) -> None:
        """Show what the check says."""
        self._verdict = verdict
        self._progress.setVisible(False)
        colour, sign = {
            Status.CLEAN: (self._theme.good, "\u2713"),
            Status.DOUBTFUL: (self._theme.doubt, "?"),
            Status.INVALID: (self._theme.bad, "\u2717"),
            None: (self._theme.bad, "\u2717"),
        }[verdict.status]
        self.headline.setText(f"{sign}  {verdict.headline}")
        self.headline.setStyleSheet(f"color: {colour}; font-weight: bold")
        self._write()

    def _write(self) -> None:
        lines = [
            self._line(Sentence(level=one.level, text=f"{one.mark.value}: {one.text}"))
            for one in self._problems
        ]
        lines += [self._line(one) for one in (self._verdict.sentences if self._verdict else ())]
        bar = self.text.verticalScrollBar()
        place = bar.value()
        self.text.setHtml("".join(lines))
        bar.setValue(place)

    def _line(self, one: Sentence) -> str:
        colour = {
            Level.INVALID: self._theme.bad,
            Level.DOUBT: self._theme.doubt,
            Level.INFO: self._theme.faint,
        }[one.level]
        words = {Level.INVALID: "wrong", Level.DOUBT: "costs accuracy", Level.INFO: ""}[one.level]
        head = f'<span style="color: {colour}">{words}: </span>' if words else ""
        text = f'<p style="margin: 0 0 6px 0">{head}{html.escape(one.text)}'
        if one.remedy:
            text += f'<br><span style="color: {self._theme.faint}">{html.escape(one.remedy)}</span>'
        return text + "</p>"
