"""A panel: a title, a note beside it, and what it is about."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of


class Panel(QFrame):
    """Frames one view.

    Parameters
    ----------
    title : what it shows, in a few words.
    content : the view.
    """

    def __init__(self, title: str, content: QWidget) -> None:
        super().__init__()
        self.setObjectName("panel")
        self.content = content
        self.title = QLabel(title)
        self.note = QLabel()
        self.note.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.note.setTextFormat(Qt.TextFormat.RichText)
        self.note.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._head = QHBoxLayout()
        self._head.addWidget(self.title)
        self._head.addWidget(self.note, 1)
        self._all = QVBoxLayout(self)
        self._all.addLayout(self._head)
        self._all.addWidget(content, 1)

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        space = sizes.space
        self._all.setContentsMargins(space, round(0.6 * space), space, round(0.7 * space))
        self._all.setSpacing(round(0.4 * space))
        self.title.setFont(font_of(sizes.text, bold=True))
        self.note.setFont(font_of(sizes.small))
        self.setStyleSheet(
            f"QFrame#panel {{ background: {theme.panel}; border: 1px solid {theme.rule};"
            f" border-radius: {space // 2}px; }} QLabel {{ border: none; color: {theme.text}; }}"
        )

    def say(self, text: str) -> None:
        """Write the note."""
        if self.note.text() != text:
            self.note.setText(text)
