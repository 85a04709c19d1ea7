"""A theme in Qt's own palette and in pyqtgraph, and the probe with the Qt that is installed."""

import os

import pyqtgraph as pg
import pytest
from PySide6.QtCore import qWarning
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication

from viscount.errors import UsageError
from viscount.monitor.application import application
from viscount.monitor.probe import require_window
from viscount.monitor.theme import DARK, LIGHT, Theme, apply


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dark", "light"])
def test_palette_and_plots_take_the_colours(theme: Theme, qapp: QApplication) -> None:
    apply(qapp, theme)
    palette = qapp.palette()
    assert palette.color(QPalette.ColorRole.Window).name() == theme.background
    assert palette.color(QPalette.ColorRole.WindowText).name() == theme.text
    disabled = palette.color(QPalette.ColorGroup.Disabled, QPalette.ColorRole.Text)
    assert disabled.name() == theme.faint
    assert pg.getConfigOption("background") == theme.background
    assert pg.getConfigOption("foreground") == theme.text


def test_the_plugins_of_another_library_s_qt_are_taken_back(
    qapp: QApplication, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An opencv-python that is not headless names them as it is imported."""
    monkeypatch.setenv("QT_QPA_PLATFORM_PLUGIN_PATH", "/lib/cv2/qt/plugins")
    monkeypatch.setenv("QT_QPA_FONTDIR", "/usr/share/fonts")
    assert application(LIGHT, plots=False) is qapp
    assert "QT_QPA_PLATFORM_PLUGIN_PATH" not in os.environ
    assert os.environ["QT_QPA_FONTDIR"] == "/usr/share/fonts"
    assert qapp.palette().color(QPalette.ColorRole.Window).name() == LIGHT.background


def test_a_window_opens_offscreen() -> None:
    require_window()


def test_x11_without_a_display_is_refused() -> None:
    bare = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    with pytest.raises(UsageError, match="neither DISPLAY nor WAYLAND_DISPLAY"):
        require_window({**bare, "QT_QPA_PLATFORM": "xcb"})


def test_a_platform_that_does_not_exist_is_named() -> None:
    with pytest.raises(UsageError, match="QT_QPA_PLATFORM is 'nosuch'"):
        require_window({**os.environ, "QT_QPA_PLATFORM": "nosuch"})


def test_warnings_of_qt_are_heard(qt_says_nothing: list[str], qapp: QApplication) -> None:
    qWarning("something is amiss")
    assert qt_says_nothing == ["QtWarningMsg: something is amiss"]
    qt_says_nothing.clear()
