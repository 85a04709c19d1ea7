"""The camera's picture, with line, beam and blade where they are, and passages as they happen."""

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.scenery import Scenery
from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of

BEYOND = 0.45
"""Places that lie further outside of the picture than this share of it are not drawn."""
_DASH = {"line": Qt.PenStyle.SolidLine, "beam": Qt.PenStyle.DashLine, "blade": Qt.PenStyle.DotLine}


class PictureView(pg.GraphicsLayoutWidget):
    """Draws the newest picture."""

    def __init__(self, model: Monitor) -> None:
        super().__init__()
        self._model = model
        self._box = self.addViewBox(lockAspect=True, invertY=True, enableMenu=False)
        self._box.setMouseEnabled(False, False)
        self._image = pg.ImageItem(axisOrder="row-major")
        self._box.addItem(self._image)
        self._marks = pg.ScatterPlotItem(pxMode=True, size=18, symbol="o")
        self._places: dict[str, tuple[pg.PlotCurveItem, pg.TextItem]] = {}
        for name in _DASH:
            curve, text = pg.PlotCurveItem(), pg.TextItem(name)
            self._places[name] = curve, text
            self._box.addItem(curve)
            self._box.addItem(text)
            text.setZValue(5)
        self._box.addItem(self._marks)
        self._scenery: Scenery | None = None
        self._shown: int | None = None
        self._theme: Theme | None = None

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme = theme
        self.setBackground(theme.panel)
        self.ci.setContentsMargins(0, 0, 0, 0)
        colours = {"line": theme.line, "beam": theme.beam, "blade": theme.blade}
        for name, (curve, text) in self._places.items():
            curve.setPen(pg.mkPen(colours[name], width=2, style=_DASH[name]))
            text.setColor(QColor(colours[name]))
            text.setFont(font_of(sizes.text, bold=True))
        self._marks.setPen(pg.mkPen(theme.camera, width=2.5))
        self._marks.setBrush(None)
        self._marks.setSize(round(1.7 * sizes.text))
        self._scenery = None

    def draw(self) -> None:
        """Draw what is new."""
        scenery, picture = self._model.scenery, self._model.picture
        if scenery is None or self._theme is None:
            return
        if scenery is not self._scenery:
            self._lay_out(scenery)
        if picture is not None and self._shown != id(picture):
            self._shown = id(picture)
            self._image.setImage(picture.pixels, autoLevels=False, levels=(0, 255))
            height, width = scenery.shape
            self._image.setRect(-0.5, -0.5, width, height)
        self._draw_marks(scenery)

    def _draw_marks(self, scenery: Scenery) -> None:
        marks = self._model.trains.under_way(self._model.now_s)
        along = scenery.line_px + scenery.falls.sign * marks[:, 1]
        x, y = (marks[:, 0], along) if scenery.falls.vertical else (along, marks[:, 0])
        inside = (along > -0.5) & (along < scenery.along_px - 0.5)
        self._marks.setData(x=x[inside], y=y[inside])

    def _lay_out(self, scenery: Scenery) -> None:
        """Put line, beam and blade where they are; near ones outside of the picture too."""
        self._scenery = scenery
        height, width = scenery.shape
        low, high = -0.5, scenery.along_px - 0.5
        beyond = BEYOND * scenery.along_px
        places = {"line": scenery.line_px, "beam": scenery.beam_px, "blade": scenery.blade_px}
        ends = np.array([-0.5, scenery.across_px - 0.5])
        shown = [low, high]
        for name, (curve, text) in self._places.items():
            at = places[name]
            near = at is not None and low - beyond <= at <= high + beyond
            curve.setVisible(near)
            text.setVisible(near)
            if at is None or not near:
                continue
            shown.append(at)
            level = np.array([at, at])
            x, y = (ends, level) if scenery.falls.vertical else (level, ends)
            curve.setData(x, y)
            text.setAnchor((0.0, 0.5) if scenery.falls.vertical else (0.5, 1.0))
            text.setPos(*((width - 0.5, at) if scenery.falls.vertical else (at, -0.5)))
        room = 0.36 * scenery.across_px if scenery.falls.vertical else 0.0
        first, last = min(shown), max(shown)
        pad = 0.035 * (last - first)
        if scenery.falls.vertical:
            x_range, y_range = (-0.5, width - 0.5 + room), (first - pad, last + pad)
        else:
            x_range, y_range = (first - pad, last + pad), (-0.1 * height, height - 0.5)
        self._box.setRange(xRange=x_range, yRange=y_range, padding=0)
