"""The keys, on a card over the window."""

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of

KEYS = (
    ("N, Shift+N", "next thing to look at, and the one before"),
    ("Enter", "show the frames of the chosen one"),
    ("Esc", "close what lies over the window"),
    ("+ and −, wheel", "less time on the axis, or more"),
    ("click on the axis", "mark this place"),
    ("T", "dark or light"),
    ("F", "fill the screen, or not"),
    ("F1, H", "show these keys"),
    ("Q", "close the window; a run goes on without it"),
)
PLAYED = (
    ("Space", "play, or stop"),
    ("← and →", "one frame back, or on"),
    ("Shift with ← or →", "ten frames"),
    ("↓ and ↑", "slower, or faster"),
    ("Home, End", "first frame, last frame"),
)


class HelpView(QWidget):
    """Lists the keys."""

    def __init__(self, parent: QWidget, *, plays: bool) -> None:
        super().__init__(parent)
        self.rows = (*PLAYED, *KEYS) if plays else KEYS
        self._theme: Theme | None = None
        self._sizes = Sizes(13.0)
        self.hide()

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._theme, self._sizes = theme, sizes
        self.update()

    @property
    def wanted(self) -> tuple[int, int]:
        """The size that its rows need."""
        text = self._sizes.text
        return round(40 * text), round((len(self.rows) + 3.2) * 1.75 * text)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go away."""
        self.hide()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        theme, text = self._theme, self._sizes.text
        if theme is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.setPen(QPen(QColor(theme.camera), 2))
        painter.setBrush(QColor(theme.panel))
        painter.drawRoundedRect(frame, text / 2, text / 2)
        high = 1.75 * text
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        y = frame.top() + text
        painter.setPen(QColor(theme.text))
        painter.setFont(font_of(1.25 * text, bold=True))
        painter.drawText(QRectF(2 * text, y, self.width() - 4 * text, high), left, "Keys and mouse")
        y += 1.3 * high
        for key, what in self.rows:
            painter.setFont(font_of(text, bold=True))
            painter.drawText(QRectF(2 * text, y, 11 * text, high), left, key)
            painter.setFont(font_of(text))
            painter.drawText(QRectF(13 * text, y, self.width() - 14 * text, high), left, what)
            y += high
        painter.end()
