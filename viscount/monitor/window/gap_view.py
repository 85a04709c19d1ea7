"""Gaps and intervals between parts, against what the gate needs."""

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from viscount.monitor.model.monitor import Monitor
from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of

BINS = 36
_NICE = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 60.0, 100.0, 200.0, 400.0, 1000.0)


class GapView(pg.PlotWidget):
    """Draws how often each gap came."""

    def __init__(self, model: Monitor) -> None:
        super().__init__(enableMenu=False)
        self._model = model
        self.hideButtons()
        self.setMouseEnabled(False, False)
        self.getPlotItem().getViewBox().setDefaultPadding(0)
        self.getPlotItem().getAxis("bottom").enableAutoSIPrefix(False)
        self._short = pg.PlotCurveItem(fillLevel=0)
        self._enough = pg.PlotCurveItem(fillLevel=0)
        self._intervals = pg.PlotCurveItem()
        self._needed = pg.InfiniteLine(angle=90)
        self._label = pg.TextItem(anchor=(0.0, 0.0))
        for item in (self._short, self._enough, self._intervals, self._needed, self._label):
            self.addItem(item, ignoreBounds=True)
        self._theme: Theme | None = None

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme = theme
        self.setBackground(theme.panel)
        for side in ("left", "bottom"):
            axis = self.getPlotItem().getAxis(side)
            axis.setPen(pg.mkPen(theme.rule))
            axis.setTextPen(pg.mkPen(theme.faint))
            axis.setTickFont(font_of(sizes.small))
        self.getPlotItem().getAxis("left").setWidth(round(2.4 * sizes.text))
        bottom = self.getPlotItem().getAxis("bottom")
        bottom.setHeight(round(2.5 * sizes.text))
        bottom.setLabel("ms; bars: gaps, dotted: intervals", color=theme.faint)
        bottom.label.setFont(font_of(sizes.small))
        self._enough.setPen(pg.mkPen(theme.camera, width=1))
        self._enough.setBrush(QColor(theme.camera))
        self._short.setPen(pg.mkPen(theme.differ, width=1.4))
        self._short.setBrush(pg.mkBrush(QColor(theme.differ), style=Qt.BrushStyle.BDiagPattern))
        pen = pg.mkPen(theme.faint, width=1.6, style=Qt.PenStyle.DotLine)
        self._intervals.setPen(pen)
        self._needed.setPen(pg.mkPen(theme.blade, width=2.4, style=Qt.PenStyle.DashLine))
        self._label.setColor(QColor(theme.blade))
        self._label.setFont(font_of(sizes.text, bold=True))

    def draw(self) -> None:
        """Draw what is new."""
        if self._theme is None:
            return
        model, gaps = self._model, self._model.gaps
        own, intervals = gaps.gaps_ms(model.now_s), gaps.intervals_ms(model.now_s)
        needed = gaps.needed_ms
        most = max([needed * 1.5 if needed else 0.0, *(_high(v) for v in (own, intervals))])
        most = next((one for one in _NICE if one >= most), _NICE[-1])
        width = most / BINS
        # What is too short and what is enough are never in one bar.
        edges = np.arange(-1, BINS + 2) * width + ((needed or 0.0) % width)
        counts, _ = np.histogram(np.clip(own, edges[0], most), edges)
        between, _ = np.histogram(np.clip(intervals, 0.0, most), edges)
        middles = 0.5 * (edges[1:] + edges[:-1])
        below = middles < needed if needed is not None else np.zeros(len(middles), bool)
        self._short.setData(edges, np.where(below, counts, 0), stepMode="center")
        self._enough.setData(edges, np.where(below, 0, counts), stepMode="center")
        self._intervals.setData(edges, between, stepMode="center")
        top = max(int(counts.max(initial=0)), int(between.max(initial=0)), 1)
        self.setXRange(0.0, most, padding=0)
        self.setYRange(0.0, 1.34 * top, padding=0)
        step = max(round(top / 3), 1)
        self.getPlotItem().getAxis("left").setTicks(
            [[(k, str(k)) for k in range(0, top + 1, step)]]
        )
        for item in (self._needed, self._label):
            item.setVisible(needed is not None)
        if needed is not None:
            self._needed.setValue(needed)
            self._label.setText(f"the gate needs {needed:.1f} ms")
            right = needed > 0.45 * most
            self._label.setAnchor((1.0 if right else 0.0, 0.0))
            self._label.setPos(needed, 1.34 * top)
        # Else the label is only put there while it is painted, and everything once more after that.
        self.getPlotItem().getViewBox().updateMatrix()
        self._label.updateTransform()

    @property
    def note(self) -> str:
        """What it comes to, in words."""
        gaps, now_s = self._model.gaps, self._model.now_s
        own = gaps.gaps_ms(now_s)
        where = "at the blade" if gaps.at_blade else "at the line"
        if not len(own):
            return f"no two parts yet, {where}"
        short = gaps.short(now_s)
        if short is None:
            return f"{where}; least {own.min():.1f} ms"
        if short == 0:
            return f"{where}; all {len(own)} are enough for the gate"
        return f"{where}; {short} of {len(own)} too short for the gate"


def _high(values: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> float:
    return float(np.percentile(values, 92)) * 1.15 if len(values) else 0.0
