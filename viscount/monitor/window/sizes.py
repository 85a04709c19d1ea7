"""How large things are: by the screen's resolution, and by the window's size."""

from dataclasses import dataclass

from PySide6.QtGui import QFont, QFontMetricsF
from PySide6.QtWidgets import QWidget

PLAIN_PT = 9.0
"""The smallest text, whatever the window."""
_WIDE, _HIGH, _PLAIN_PX = 1280, 800, 13.0
_POINTS_PER_INCH = 72.0


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes in px.

    Attributes
    ----------
    text : height of plain text's letters, as a font's pixel size.
    """

    text: float

    @property
    def small(self) -> float:
        """Text beside other text."""
        return 0.88 * self.text

    @property
    def title(self) -> float:
        """What is read first of a panel."""
        return 1.15 * self.text

    @property
    def space(self) -> int:
        """Room between things."""
        return max(round(0.6 * self.text), 4)


def sizes_of(widget: QWidget) -> Sizes:
    """Return the sizes that suit a window as large as it is now."""
    window = widget.window()
    least = PLAIN_PT * window.logicalDpiY() / _POINTS_PER_INCH
    share = min(window.width() / _WIDE, window.height() / _HIGH)
    return Sizes(max(_PLAIN_PX * share, least))


def font_of(size_px: float, *, bold: bool = False) -> QFont:
    """Return the window's font at a size."""
    font = QFont()
    font.setPixelSize(max(round(size_px), 6))
    font.setBold(bold)
    return font


def fitted(text: str, width: float, height: float, *, bold: bool = True) -> QFont:
    """Return the font in which a text fills a box, and leaves it nowhere."""
    size = height
    for _ in range(3):
        metrics = QFontMetricsF(font_of(size, bold=bold))
        wide = max(metrics.horizontalAdvance(text), 1.0)
        tall = max(metrics.tightBoundingRect("0").height(), 1.0)
        size *= min(width / wide, height / tall)
    return font_of(max(size, 6.0), bold=bold)
