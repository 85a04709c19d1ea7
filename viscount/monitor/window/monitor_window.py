"""The monitor's window: one timer, which draws only where something is new."""

from collections.abc import Callable
from typing import Protocol

import numpy as np
from PySide6.QtCore import QRect, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from viscount.clock import Clock, SystemClock
from viscount.monitor.model.doubts import Doubt
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.playback import Playback
from viscount.monitor.theme import DARK, LIGHT, Theme, apply
from viscount.monitor.window.band import Band
from viscount.monitor.window.doubt_list import DoubtList
from viscount.monitor.window.gap_view import GapView
from viscount.monitor.window.help_view import HelpView
from viscount.monitor.window.keys import pressed
from viscount.monitor.window.panel import Panel
from viscount.monitor.window.picture_view import PictureView
from viscount.monitor.window.proof_view import ProofView
from viscount.monitor.window.sizes import Sizes, font_of, sizes_of
from viscount.monitor.window.things_view import ThingsView
from viscount.monitor.window.time_view import TimeView
from viscount.monitor.window.transport import Transport

REDRAWS_PER_S = 15
TICK_MS = 1000 // REDRAWS_PER_S + 1
LEAST_WIDTH, LEAST_HEIGHT = 900, 600
MISSED = "(marks are missing: this window was too slow; the count is not touched)"
_PICTURE_SHARE = (0.15, 0.42)


class Dressed(Protocol):
    """A view that takes a theme's colours, and sizes."""

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take them."""
        ...


class MonitorWindow(QWidget):
    """Shows a model.

    Parameters
    ----------
    model : what is shown.
    theme : its colours.
    feed : brings the model what is new; called before each drawing.
    clock : tells how much time has gone by, for a recording that is played.

    Attributes
    ----------
    draws : how often something was drawn.
    """

    def __init__(
        self,
        model: Monitor,
        theme: Theme,
        *,
        feed: Callable[[], None] = lambda: None,
        clock: Clock | None = None,
    ) -> None:
        super().__init__()
        self.model = model
        self.played = model if isinstance(model, Playback) else None
        self.draws = 0
        self._theme = theme
        self._feed = feed
        self._clock = clock or SystemClock()
        self._ticked_ns = self._clock.now_ns()
        self._drawn: int | None = None
        self._sized: tuple[int, int] | None = None
        application = QApplication.instance()
        if isinstance(application, QApplication):
            # Plots take how they are drawn from there as they are made.
            apply(application, theme)
        self._make()
        self.setWindowTitle(f"viscount: {model.facts.title}")
        self.setMinimumSize(LEAST_WIDTH, LEAST_HEIGHT)
        self.resize(1280, 800)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.tick)
        self._timer.start(TICK_MS)

    @property
    def theme(self) -> Theme:
        """The colours in use."""
        return self._theme

    def _make(self) -> None:
        model = self.model
        self.band = Band(model)
        self.picture = PictureView(model)
        self.times = TimeView(model)
        self.gaps = GapView(model)
        self.list = DoubtList(model, newest_first=self.played is None)
        self.things = ThingsView(model)
        self.transport = None if self.played is None else Transport(self.played)
        self.panels = {
            "picture": Panel("Camera", self.picture),
            "times": Panel("What passed the line, and both counters", self.times),
            "list": Panel("To look at", self.list),
            "gaps": Panel("Gaps between parts", self.gaps),
            "things": Panel("Machine", self.things),
        }
        self.hint = QLabel()
        self._middle = QHBoxLayout()
        self._middle.addWidget(self.panels["picture"])
        self._middle.addWidget(self.panels["times"], 1)
        self._bottom = QHBoxLayout()
        self._bottom.addWidget(self.panels["list"], 42)
        self._bottom.addWidget(self.panels["gaps"], 32)
        self._bottom.addWidget(self.panels["things"], 26)
        self._rows = QVBoxLayout(self)
        self._rows.addWidget(self.band, 21)
        self._rows.addLayout(self._middle, 50)
        if self.transport is not None:
            self._rows.addWidget(self.transport)
            self.transport.doubt.clicked.connect(lambda: self.go_to_doubt(1))
        self._rows.addLayout(self._bottom, 25)
        self._rows.addWidget(self.hint)
        self.proof = ProofView(self)
        self.help = HelpView(self, plays=self.played is not None)
        self.proof.left.connect(self.leave_proof)
        self.list.chosen.connect(self.look_at)
        self.times.clicked_at.connect(self._pick)

    def dress(self, theme: Theme | None = None) -> None:
        """Take a theme, or the window's present size, into all views."""
        application = QApplication.instance()
        if theme is not None or self._sized is None:
            self._theme = theme or self._theme
            if isinstance(application, QApplication):
                apply(application, self._theme)
        sizes = sizes_of(self)
        self._sized = self.width(), self.height()
        space = sizes.space
        self._rows.setContentsMargins(space, space, space, round(0.6 * space))
        for layout in (self._rows, self._middle, self._bottom):
            layout.setSpacing(space)
        for layout, high in ((self._middle, 0), (self._bottom, 0)):
            layout.setContentsMargins(0, high, 0, 0)
        views: tuple[Dressed, ...] = (
            self.band,
            self.picture,
            self.times,
            self.gaps,
            self.list,
            self.things,
            self.proof,
            self.help,
            *self.panels.values(),
        )
        for view in views:
            view.dress(self._theme, sizes)
        if self.transport is not None:
            self.transport.dress(self._theme, sizes)
        self.hint.setFont(font_of(sizes.small))
        self.hint.setStyleSheet(f"color: {self._theme.faint};")
        self.hint.setText(
            "Space play   ← → frame   ↑ ↓ speed   N next doubt   Enter its frames   + − time   "
            "T dark or light   F1 all keys   Q close"
            if self.played is not None
            else "N next doubt   Enter its frames   + − time   T dark or light   F fill the screen"
            "   F1 all keys   Q close: the run goes on"
        )
        self.panels["times"].say(_legend(self._theme, self.model))
        self._place(sizes)
        self._drawn = None

    def _place(self, sizes: Sizes) -> None:
        """Give the picture the width that its shape needs, and the cards their places."""
        scenery = self.model.scenery
        low, high = _PICTURE_SHARE
        width = low * self.width()
        if scenery is not None:
            tall = 0.43 * self.height()
            rows, columns = scenery.shape
            wanted = tall * columns / rows * (1.45 if scenery.falls.vertical else 1.0)
            width = min(max(wanted + 4 * sizes.space, width), high * self.width())
        self.panels["picture"].setFixedWidth(round(width))
        wide, tall_px = self.help.wanted
        wide, tall_px = min(wide, self.width() - 20), min(tall_px, self.height() - 20)
        left, top = (self.width() - wide) // 2, (self.height() - tall_px) // 2
        self.help.setGeometry(QRect(left, top, wide, tall_px))
        self._rows.activate()
        around = self.panels["picture"].geometry().united(self.panels["times"].geometry())
        self.proof.setGeometry(around)

    def tick(self) -> None:
        """Take what is new, and draw it."""
        now_ns = self._clock.now_ns()
        elapsed_s, self._ticked_ns = 1e-9 * (now_ns - self._ticked_ns), now_ns
        self._feed()
        if self.played is not None:
            self.played.tick(elapsed_s)
        self.draw()

    def draw(self) -> None:
        """Draw, if anything is new."""
        if not self.isVisible() or self._drawn == self.model.revision:
            return
        had_scenery = self.panels["picture"].property("placed")
        if (self.model.scenery is not None) and not had_scenery:
            self.panels["picture"].setProperty("placed", True)
            self.dress()
        self._drawn = self.model.revision
        self.draws += 1
        self.picture.draw()
        self.times.draw()
        self.gaps.draw()
        self.list.draw()
        self.band.update()
        self.things.update()
        self.panels["gaps"].say(self.gaps.note)
        count = len(self.model.doubts)
        more = (
            f" ({self.model.doubts.dropped} older ones left out)"
            if (self.model.doubts.dropped)
            else ""
        )
        self.panels["list"].say(f"{count}{more}" if count else "nothing so far")
        if self.transport is not None:
            self.transport.draw()
        if self.model.missed and not self.panels["times"].property("missed"):
            self.panels["times"].setProperty("missed", True)
            self.panels["times"].say(f"{_legend(self._theme, self.model)} &nbsp; {MISSED}")

    def look_at(self, doubt: Doubt) -> None:
        """Show a doubt: its place on the axis, its frames."""
        self.list.choose(doubt)
        self.times.picked_s = doubt.t_s
        if self.played is not None:
            self.played.look_at(doubt)
        pictures = self.model.proof(doubt)
        path = None
        if doubt.t_s is not None:
            times = np.array([one.t_s for one in pictures])
            path = self.model.trains.path(doubt.t_s, times)
        self.proof.show_doubt(doubt, pictures, self.model.scenery, path)
        self.model.revision += 1
        self.draw()

    def go_to_doubt(self, way: int) -> None:
        """Go to the next doubt, or the one before."""
        found = self.list.neighbour(way)
        if self.played is not None and self.list.current() is None:
            found = self.played.next_doubt(way) or found
        if found is not None:
            self.look_at(found)

    def leave_proof(self) -> None:
        """Show the run again."""
        self.proof.hide()
        self.setFocus()

    def toggle_theme(self) -> None:
        """Go from dark to light, or back."""
        self.dress(LIGHT if self._theme is DARK else DARK)
        self.draw()

    def _pick(self, t_s: float) -> None:
        self.times.picked_s = t_s
        if self.played is not None:
            self.played.playing = False
            self.played.go_to_s(t_s)
        self.model.revision += 1

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Size everything anew."""
        super().resizeEvent(event)
        self.dress()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Hear a key."""
        if not pressed(self, event):
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop drawing."""
        self._timer.stop()
        super().closeEvent(event)


def _legend(theme: Theme, model: Monitor) -> str:
    """Return what the marks mean, in their colours."""

    def told(mark: str, colour: str, text: str) -> str:
        return f'<span style="color:{colour}"><b>{mark}</b></span>&nbsp;{text}'

    both = "&nbsp;&nbsp; "
    said = [told("▼", theme.camera, "a part"), told("▮", theme.beam, "beam dark")]
    if model.facts.has_beam or model.trains.sizes[1]:
        said += [
            told("│", theme.agree, "the same part"),
            told("○", theme.differ, "camera only"),
            told("×", theme.differ, "beam only"),
        ]
    return both.join(said)
