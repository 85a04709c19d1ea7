"""What each key does."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from viscount.monitor.model.playback import Playback

if TYPE_CHECKING:
    from viscount.monitor.window.monitor_window import MonitorWindow

_FAR = 10


def pressed(window: "MonitorWindow", event: QKeyEvent) -> bool:
    """Do what a key asks for; return whether it asks for anything."""
    key = Qt.Key(event.key())
    shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
    if window.played is not None and _played(window.played, key, shifted=shifted):
        window.draw()
        return True
    match key:
        case Qt.Key.Key_N:
            window.go_to_doubt(-1 if shifted else 1)
        case Qt.Key.Key_Return | Qt.Key.Key_Enter:
            chosen = window.list.current()
            if chosen is not None:
                window.look_at(chosen)
        case Qt.Key.Key_Escape:
            window.help.hide()
            window.leave_proof()
        case Qt.Key.Key_Plus | Qt.Key.Key_Equal:
            window.times.zoom(-1)
        case Qt.Key.Key_Minus:
            window.times.zoom(1)
        case Qt.Key.Key_T:
            window.toggle_theme()
        case Qt.Key.Key_F:
            window.showNormal() if window.isFullScreen() else window.showFullScreen()
        case Qt.Key.Key_F1 | Qt.Key.Key_H:
            window.help.setVisible(not window.help.isVisible())
            window.help.raise_()
        case Qt.Key.Key_Q:
            window.close()
        case _:
            return False
    window.draw()
    return True


def _played(model: Playback, key: Qt.Key, *, shifted: bool) -> bool:
    far = _FAR if shifted else 1
    match key:
        case Qt.Key.Key_Space:
            model.play()
        case Qt.Key.Key_Right:
            model.step(far)
        case Qt.Key.Key_Left:
            model.step(-far)
        case Qt.Key.Key_Up:
            model.faster(1)
        case Qt.Key.Key_Down:
            model.faster(-1)
        case Qt.Key.Key_Home:
            model.step(-model.frames)
        case Qt.Key.Key_End:
            model.step(model.frames)
        case _:
            return False
    return True
