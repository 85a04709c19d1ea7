"""What plays a recording: buttons, and where it is."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSlider, QWidget

from viscount.monitor.model.playback import Playback
from viscount.monitor.theme import Theme
from viscount.monitor.window.sizes import Sizes, font_of


class Transport(QWidget):
    """Buttons to play and step, and a slider through the recording."""

    def __init__(self, model: Playback) -> None:
        super().__init__()
        self._model = model
        self.back = QPushButton("◂ Frame")
        self.play = QPushButton("Play")
        self.on = QPushButton("Frame ▸")
        self.slower = QPushButton("Slower")
        self.faster = QPushButton("Faster")
        self.doubt = QPushButton("Next doubt")
        self.where = QLabel()
        self.speed = QLabel()
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, model.frames - 1)
        self.slider.setPageStep(max(model.frames // 20, 1))
        self._row = QHBoxLayout(self)
        left = (self.back, self.play, self.on, self.slider, self.where)
        for widget in (*left, self.slower, self.speed, self.faster, self.doubt):
            widget.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._row.addWidget(widget, 1 if widget is self.slider else 0)
        self.back.clicked.connect(lambda: model.step(-1))
        self.on.clicked.connect(lambda: model.step(1))
        self.play.clicked.connect(model.play)
        self.slower.clicked.connect(lambda: model.faster(-1))
        self.faster.clicked.connect(lambda: model.faster(1))
        self.slider.valueChanged.connect(self._slid)

    def dress(self, theme: Theme, sizes: Sizes) -> None:
        """Take a theme's colours, and sizes."""
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(sizes.space)
        font = font_of(sizes.text)
        for widget in (self.back, self.play, self.on, self.slower, self.faster, self.doubt):
            widget.setFont(font)
        for label, widest in (
            (self.where, "000.000 s, frame 00000 of 00000"),
            (self.speed, "0.02 ×"),
        ):
            label.setFont(font)
            label.setMinimumWidth(label.fontMetrics().horizontalAdvance(widest))
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.play.setMinimumWidth(self.play.fontMetrics().horizontalAdvance("Pause") + 40)
        pad, edge = round(0.3 * sizes.text), round(0.7 * sizes.text)
        self.setStyleSheet(
            f"QPushButton {{ background: {theme.panel}; color: {theme.text};"
            f" border: 1px solid {theme.rule}; border-radius: {pad}px;"
            f" padding: {pad}px {edge}px; }}"
            f"QPushButton:hover {{ border-color: {theme.camera}; }}"
            f"QLabel {{ color: {theme.text}; }}"
        )

    def draw(self) -> None:
        """Show where it is."""
        model = self._model
        self.slider.blockSignals(True)
        self.slider.setValue(model.index)
        self.slider.blockSignals(False)
        self.play.setText("Pause" if model.playing else "Play")
        self.where.setText(f"{model.now_s:.3f} s, frame {model.index} of {model.frames - 1}")
        self.speed.setText(f"{model.speed:g} ×")

    def _slid(self, index: int) -> None:
        self._model.playing = False
        self._model.go_to(index)
