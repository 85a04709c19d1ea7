"""The strip and both event trains on one time axis: what was seen above, what was counted below."""

from collections.abc import Iterable

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QWheelEvent

from viscount.agreement.result import WORTH_A_LOOK
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.trains import Link, Stretch
from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of
from viscount.values import Pairs

CAMERA_Y, BEAM_Y, BEAM_HIGH = 1.0, 0.0, 0.26
SPANS_S = (0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0)
AHEAD, MARGIN = 0.12, 0.02
"""Behind the last part so much of the axis stays free."""
LABELS = 40
EVERY = (1, 2, 5, 10, 20, 50, 100, 200, 500)
MOST_COLUMNS = 1600


class TimeView(pg.GraphicsLayoutWidget):
    """Draws the stretch of time that is looked at.

    Attributes
    ----------
    span_s : how long it is.
    picked_s : a place that was clicked or jumped to, marked; None where there is none.
    """

    clicked_at = Signal(float)

    def __init__(self, model: Monitor) -> None:
        super().__init__()
        self._model = model
        self.span_s = 0.75
        self.picked_s: float | None = None
        self.strip = self.addPlot(row=0, col=0, enableMenu=False)
        self.trains = self.addPlot(row=1, col=0, enableMenu=False)
        for plot in (self.strip, self.trains):
            plot.hideButtons()
            plot.setMouseEnabled(False, False)
            plot.getViewBox().setDefaultPadding(0)
            # Once, before there is a label: later it would scale what is shown by then.
            plot.getAxis("bottom").enableAutoSIPrefix(False)
        self.strip.getAxis("bottom").setStyle(showValues=False, tickLength=0)
        self.strip.getAxis("left").setTicks([[]])
        self.trains.getAxis("left").setTicks(
            [[(CAMERA_Y, "camera"), (BEAM_Y + BEAM_HIGH / 2, "beam")]]
        )
        self.trains.getAxis("left").setStyle(tickLength=0)
        self.trains.setYRange(-0.16, 1.42, padding=0)
        self.ci.layout.setRowStretchFactor(0, 5)
        self.ci.layout.setRowStretchFactor(1, 6)
        self._image = pg.ImageItem(axisOrder="row-major")
        self.strip.addItem(self._image)
        self._items()
        self._theme: Theme | None = None
        self.scene().sigMouseClicked.connect(self._clicked)

    def _items(self) -> None:
        self._agreed = pg.PlotCurveItem(connect="pairs")
        self._merged = pg.PlotCurveItem(connect="pairs")
        self._unsure = pg.PlotCurveItem(connect="pairs")
        self._alone = pg.PlotCurveItem(connect="pairs")
        self._bars = pg.PlotCurveItem(connect="finite", fillLevel=BEAM_Y)
        self._odd_bars = pg.PlotCurveItem(connect="finite", fillLevel=BEAM_Y)
        self._marks = pg.ScatterPlotItem(symbol="t", pxMode=True)
        self._doubtful = pg.ScatterPlotItem(symbol="t", pxMode=True)
        self._rings = pg.ScatterPlotItem(symbol="o", pxMode=True)
        self._crosses = pg.ScatterPlotItem(symbol="x", pxMode=True)
        curves = (self._agreed, self._merged, self._unsure, self._alone, self._bars, self._odd_bars)
        dots = (self._marks, self._doubtful, self._rings, self._crosses)
        for item in (*curves, *dots):
            self.trains.addItem(item)
        self._picks = [pg.InfiniteLine(angle=90), pg.InfiniteLine(angle=90)]
        self._nows = [pg.InfiniteLine(angle=90), pg.InfiniteLine(angle=90)]
        for plot, pick, now in zip((self.strip, self.trains), self._picks, self._nows, strict=True):
            plot.addItem(pick)
            plot.addItem(now)
            pick.setZValue(-5)
            pick.hide()
        self._labels = [pg.TextItem(anchor=(0.5, 1.0)) for _ in range(LABELS)]
        for label in self._labels:
            self.trains.addItem(label)
            label.hide()

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme, text = theme, sizes.text
        self.setBackground(theme.panel)
        self.ci.setContentsMargins(0, 0, 0, 0)
        self.ci.setSpacing(round(0.3 * text))
        for plot in (self.strip, self.trains):
            for side in ("left", "bottom"):
                axis = plot.getAxis(side)
                axis.setPen(pg.mkPen(theme.rule))
                axis.setTextPen(pg.mkPen(theme.text if side == "left" else theme.faint))
                axis.setTickFont(font_of(sizes.text if side == "left" else sizes.small))
            plot.getAxis("left").setWidth(round(4.6 * text))
        self.trains.getAxis("bottom").setHeight(round(2.5 * text))
        self.trains.getAxis("bottom").setLabel("time at the counting line, s", color=theme.faint)
        self.trains.getAxis("bottom").label.setFont(font_of(sizes.small))
        self.strip.getAxis("bottom").setHeight(2)
        self._agreed.setPen(pg.mkPen(theme.agree, width=1.4))
        self._merged.setPen(pg.mkPen(theme.differ, width=2.6))
        self._unsure.setPen(pg.mkPen(theme.doubt, width=2, style=Qt.PenStyle.DashLine))
        self._alone.setPen(pg.mkPen(theme.differ, width=1.4, style=Qt.PenStyle.DotLine))
        self._bars.setPen(None)
        self._bars.setBrush(QColor(theme.beam))
        self._odd_bars.setPen(pg.mkPen(theme.differ, width=1.6))
        self._odd_bars.setBrush(pg.mkBrush(QColor(theme.differ), style=Qt.BrushStyle.BDiagPattern))
        size = round(0.95 * text)
        self._marks.setSize(size)
        self._marks.setPen(None)
        self._marks.setBrush(QColor(theme.camera))
        self._doubtful.setSize(size)
        self._doubtful.setPen(pg.mkPen(theme.doubt, width=2))
        self._doubtful.setBrush(QColor(theme.panel))
        for item, large in ((self._rings, 2.0), (self._crosses, 1.1)):
            item.setSize(round(large * text))
            item.setPen(pg.mkPen(theme.differ, width=2.4))
            item.setBrush(None)
        for pick in self._picks:
            pick.setPen(pg.mkPen(theme.doubt, width=max(round(0.5 * text), 4)))
        for now in self._nows:
            now.setPen(pg.mkPen(theme.faint, width=1))
        for label in self._labels:
            label.setColor(QColor(theme.faint))
            label.setFont(font_of(sizes.small))
        self._font = font_of(sizes.small)

    @property
    def stretch_s(self) -> tuple[float, float]:
        """From when to when is shown: it follows what comes, and rests where nothing does."""
        model = self._model
        end = min(model.now_s + MARGIN * self.span_s, model.last_s + AHEAD * self.span_s)
        if self.picked_s is not None:
            end = max(end, self.picked_s + 0.3 * self.span_s)
        if model.last_s == 0.0:
            end = model.now_s
        return end - self.span_s, end

    def zoom(self, steps: int) -> None:
        """Show more time, or less."""
        at = int(np.argmin(np.abs(np.log(np.array(SPANS_S) / self.span_s))))
        self.span_s = SPANS_S[int(np.clip(at + steps, 0, len(SPANS_S) - 1))]
        self._model.revision += 1

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom in time."""
        self.zoom(-1 if event.angleDelta().y() > 0 else 1)
        event.accept()

    def draw(self) -> None:
        """Draw what is new."""
        if self._theme is None or self._model.scenery is None:
            return
        start, end = self.stretch_s
        self.strip.setXRange(start, end, padding=0)
        self.trains.setXRange(start, end, padding=0)
        self._draw_strip(start, end)
        stretch = self._model.trains.within(start, min(end, self._model.shown_until_s))
        self._draw_trains(stretch)
        self._label(stretch, start, end)
        for pick in self._picks:
            pick.setVisible(self.picked_s is not None)
            if self.picked_s is not None:
                pick.setValue(self.picked_s)
        for now in self._nows:
            now.setValue(self._model.now_s)
            now.setVisible(start < self._model.now_s < end - 1e-9)
        self._settle()

    def _settle(self) -> None:
        """Put the numbers where they belong: while one is painted that would mean a second time."""
        for plot in (self.strip, self.trains):
            plot.getViewBox().updateMatrix()
        for label in self._labels:
            if label.isVisible():
                label.updateTransform()

    def _draw_strip(self, start: float, end: float) -> None:
        strip, theme = self._model.strip, self._theme
        assert theme is not None
        if strip is None:
            return
        width = int(np.clip(self.strip.getViewBox().width(), 16, MOST_COLUMNS))
        at = start + (np.arange(width) + 0.5) * (end - start) / width
        pixels, seen = strip.picture(start, end, width, self._model.trains.speeds(at))
        seen &= at <= self._model.now_s
        pixels[:, ~seen] = QColor(theme.background).lightness()
        self._image.setImage(pixels, autoLevels=False, levels=(0, 255))
        self._image.setRect(start, 0, end - start, pixels.shape[0])
        low, high = self._model.trains.across(strip.step, pixels.shape[0])
        self.strip.setYRange(low, high, padding=0)

    def _draw_trains(self, stretch: Stretch) -> None:
        passages = stretch.passages
        doubtful = passages[:, 2] > WORTH_A_LOOK if len(passages) else np.zeros(0, bool)
        self._marks.setData(x=passages[~doubtful, 0], y=np.full(int((~doubtful).sum()), CAMERA_Y))
        self._doubtful.setData(x=passages[doubtful, 0], y=np.full(int(doubtful.sum()), CAMERA_Y))
        odd = [link for link in stretch.links if not link.agrees]
        odd_bars = [bar for link in odd for bar in link.pulses_s]
        plain = np.array([b for b in stretch.pulses.tolist() if tuple(b) not in set(odd_bars)])
        self._bars.setData(*_outline(plain.reshape(-1, 2)))
        self._odd_bars.setData(*_outline(np.array(odd_bars).reshape(-1, 2)))
        self._agreed.setData(*_lines(link for link in stretch.links if link.agrees))
        self._merged.setData(*_lines(_of(odd, Pairs.MERGED_PULSE)))
        self._unsure.setData(*_lines(_of(odd, Pairs.AMBIGUOUS)))
        alone = np.array([t for link in _of(odd, Pairs.CAMERA_ONLY) for t in link.passages_s])
        self._rings.setData(x=alone, y=np.full(len(alone), CAMERA_Y))
        self._alone.setData(np.repeat(alone, 2), np.tile([CAMERA_Y - 0.1, BEAM_Y], len(alone)))
        lonely = np.array([np.mean(b) for k in _of(odd, Pairs.BEAM_ONLY) for b in k.pulses_s])
        self._crosses.setData(x=lonely, y=np.full(len(lonely), BEAM_Y + BEAM_HIGH + 0.14))

    def _label(self, stretch: Stretch, start: float, end: float) -> None:
        """Number the parts, as many as there is room for."""
        passages = stretch.passages
        before = self._model.trains.counted_before(start)
        counted = before + np.cumsum(passages[:, 1]) if len(passages) else np.zeros(0)
        room = max(len(passages) / 16, 1.0)
        every = next((e for e in EVERY if e >= room), EVERY[-1])
        used, apart_s, last_s = 0, self._apart_s(end - start), -np.inf
        for (t_s, parts, *_), number in zip(passages.tolist(), counted.tolist(), strict=True):
            if used == LABELS:
                break
            several = abs(parts) != 1
            if not (several or round(number) % every == 0) or not start < t_s < end:
                continue
            if t_s - last_s < apart_s:
                continue
            last_s = t_s
            label = self._labels[used]
            label.setText(f"{round(number)}" if not several else f"{round(number)} ({parts:+.0f})")
            label.setPos(t_s, CAMERA_Y + 0.12)
            label.show()
            used += 1
        for label in self._labels[used:]:
            label.hide()

    def _apart_s(self, span_s: float) -> float:
        """Return how far apart two numbers stand at least."""
        wide = QFontMetricsF(self._font).horizontalAdvance("0000")
        return span_s * float(wide) / max(float(self.trains.getViewBox().width()), 1.0)

    def _clicked(self, event: object) -> None:
        place = self.trains.getViewBox().mapSceneToView(event.scenePos())  # type: ignore[attr-defined]
        self.clicked_at.emit(float(place.x()))


def _of(links: Iterable[Link], kind: Pairs) -> list[Link]:
    return [link for link in links if link.pairing.kind is kind]


def _lines(links: Iterable[Link]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the lines from each passage to each of its pulses, as pairs of points."""
    x: list[float] = []
    y: list[float] = []
    for link in links:
        for t_s in link.passages_s:
            for start, end in link.pulses_s:
                # A later part of a long pulse is somewhere inside of it.
                foot = min(max(t_s, start), end) if len(link.passages_s) > 1 else start
                x += (t_s, foot)
                y += (CAMERA_Y - 0.08, BEAM_Y + BEAM_HIGH)
    return np.array(x), np.array(y)


def _outline(bars: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the outlines of bars as one curve with gaps."""
    if not len(bars):
        return np.zeros(0), np.zeros(0)
    top = BEAM_Y + BEAM_HIGH
    x = np.column_stack(
        [bars[:, 0], bars[:, 0], bars[:, 1], bars[:, 1], np.full(len(bars), np.nan)]
    )
    y = np.tile([BEAM_Y, top, top, BEAM_Y, np.nan], len(bars))
    return x.ravel(), y
