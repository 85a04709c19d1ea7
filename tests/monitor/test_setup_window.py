"""The window of `viscount outlet draw`, driven by mouse and keys as a user would."""

import gc
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox, QPushButton
from pytestqt.qtbot import QtBot

from viscount.monitor.application import application
from viscount.monitor.setup.looking import Looker
from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.moving import measured, placed
from viscount.monitor.setup.saving import Target
from viscount.monitor.setup.state import set_up
from viscount.monitor.setup.stills import PATHS, Still, first_still
from viscount.monitor.setup_view.window import SetUpWindow
from viscount.monitor.theme import DARK, LIGHT, Theme
from viscount.outlet import load_outlet
from viscount.values import Falls

Opened = Callable[..., SetUpWindow]
LEFT = Qt.MouseButton.LeftButton
GREY = Still(name="first picture", pixels=np.full((480, 160), 180, np.uint8))


@pytest.fixture
def opened(qapp: QApplication, tmp_path: Path) -> Iterator[Opened]:
    """Opens windows, and shuts them without a question."""
    windows: list[SetUpWindow] = []

    def open_one(
        *, base: Path | None = None, theme: Theme = DARK, out: Path | None = None
    ) -> SetUpWindow:
        application(theme)
        outlet = None if base is None else load_outlet(base)
        target = Target(out=out or base or tmp_path / "outlet.yaml", base=base, source="pour.mp4")
        window = SetUpWindow(set_up(480, 160, outlet), GREY, target, None, theme, title="pour.mp4")
        window.show()
        QTest.qWaitForWindowExposed(window)
        windows.append(window)
        return window

    yield open_one
    for window in windows:
        window.setup = set_up(480, 160)
        window.close()
        window.deleteLater()


def at(window: SetUpWindow, x_px: float, y_px: float) -> QPoint:
    """Where a point of the picture lies in the canvas."""
    x, y = window.canvas.showing.to_window(x_px, y_px)
    return QPoint(round(x), round(y))


def drag(window: SetUpWindow, start: tuple[float, float], end: tuple[float, float]) -> None:
    canvas, there = window.canvas, at(window, *end)
    QTest.mousePress(canvas, LEFT, pos=at(window, *start))
    QTest.mouseMove(canvas, (at(window, *start) + there) / 2)
    QTest.mouseMove(canvas, there)
    QTest.mouseRelease(canvas, LEFT, pos=there)


def press(window: SetUpWindow, key: Qt.Key, *, shift: bool = False) -> None:
    held = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
    QTest.keyClick(window.canvas, key, held)


def answering(button: str) -> list[str]:
    """Answer the next question by its button; returns what was asked, once it was."""
    asked: list[str] = []

    def answer() -> None:
        box = QApplication.activeModalWidget()
        if not isinstance(box, QMessageBox):
            QTimer.singleShot(5, answer)
            return
        asked.append(box.text())
        found = [one for one in box.findChildren(QPushButton) if one.text() == button]
        QTest.mouseClick(found[0], LEFT)

    QTimer.singleShot(0, answer)
    return asked


def test_a_click_places_the_line_and_a_drag_moves_it(opened: Opened) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    assert window.setup.now.line_px == pytest.approx(200, abs=1)
    drag(window, (60, 200), (60, 300))
    assert window.setup.now.line_px == pytest.approx(300, abs=1)
    assert len(window.setup.past) == 2


def test_arrow_keys_nudge_what_was_clicked(opened: Opened) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    before = window.setup.now.line_px
    assert before is not None
    press(window, Qt.Key.Key_Down)
    press(window, Qt.Key.Key_Down)
    press(window, Qt.Key.Key_Up, shift=True)
    assert window.setup.now.line_px == pytest.approx(before - 8)


def test_rows_and_numbers_choose_a_mark(opened: Opened) -> None:
    window = opened()
    row = window.table.rows[Mark.LAMP]
    QTest.mouseClick(row, LEFT, pos=row.rect().center())
    assert window.setup.selected is Mark.LAMP
    drag(window, (10, 20), (50, 70))
    x0, y0, x1, y1 = window.setup.now.lamp or (0, 0, 0, 0)
    assert (x0, y0, x1, y1) == pytest.approx((10, 20, 50, 70), abs=1.5)
    press(window, Qt.Key.Key_3)
    assert window.setup.selected is Mark.LIP
    assert "Click where parts leave" in window.chosen.hint
    press(window, Qt.Key.Key_Escape)
    assert window.setup.selected is None


def test_a_segment_and_its_length_tell_the_scale(opened: Opened) -> None:
    window = opened()
    press(window, Qt.Key.Key_4)
    drag(window, (40, 100), (40, 300))
    assert window.chosen.length.isVisible()
    QTest.mouseClick(window.chosen.length.lineEdit(), LEFT)
    window.chosen.length.lineEdit().selectAll()
    QTest.keyClicks(window.chosen.length, "50")
    QTest.keyClick(window.chosen.length, Qt.Key.Key_Return)
    assert window.setup.now.scale_px_per_mm == pytest.approx(4, abs=0.05)


def test_undo_redo_and_delete(opened: Opened) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    press(window, Qt.Key.Key_Delete)
    assert window.setup.now.line_px is None
    QTest.mouseClick(window.top.undo, LEFT)
    assert window.setup.now.line_px is not None
    QTest.mouseClick(window.top.undo, LEFT)
    assert not window.top.undo.isEnabled()
    QTest.keyClick(
        window,
        Qt.Key.Key_Z,
        Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier,
    )
    assert window.setup.now.line_px is not None


def test_escape_lets_go_in_the_middle_of_a_drag(opened: Opened) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    before = window.setup.now
    QTest.mousePress(window.canvas, LEFT, pos=at(window, 80, 200))
    QTest.mouseMove(window.canvas, at(window, 80, 300))
    assert window.setup.now != before
    press(window, Qt.Key.Key_Escape)
    assert window.setup.now == before
    QTest.mouseRelease(window.canvas, LEFT, pos=at(window, 80, 300))
    assert window.setup.now == before


def test_the_direction_turns_the_line(opened: Opened) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 240))
    QTest.mouseClick(window.top.ways[Falls.RIGHT], LEFT)
    assert window.setup.now.falls is Falls.RIGHT
    assert window.setup.now.line_px == pytest.approx(80, abs=1)
    drag(window, (window.setup.now.line_px or 0, 100), (120, 300))
    assert window.setup.now.line_px == pytest.approx(120, abs=1)


def test_the_wheel_zooms_round_the_mouse_and_a_drag_pans(opened: Opened) -> None:
    window = opened()
    press(window, Qt.Key.Key_Escape)
    where = at(window, 40, 100)
    before = window.canvas.showing
    wheel = QWheelEvent(
        QPointF(where),
        QPointF(window.canvas.mapToGlobal(where)),
        QPoint(),
        QPoint(0, 240),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(window.canvas, wheel)
    assert window.canvas.showing.zoom == pytest.approx(1.44 * before.zoom)
    assert (at(window, 40, 100) - where).manhattanLength() <= 2
    drag(window, (40, 100), (60, 130))
    moved = at(window, 40, 100) - where
    assert (moved.x(), moved.y()) == pytest.approx(
        (20 * 1.44 * before.zoom, 30 * 1.44 * before.zoom), abs=2
    )
    press(window, Qt.Key.Key_0)
    assert window.canvas.showing == before


def test_saving_writes_the_file_and_says_so(opened: Opened, tmp_path: Path) -> None:
    window = opened()
    assert not window.top.save.isEnabled()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    assert window.top.save.text() == "Save outlet.yaml"
    QTest.mouseClick(window.top.save, LEFT)
    line = load_outlet(tmp_path / "outlet.yaml").view.line_px
    assert line == window.setup.now.line_px
    assert window.written
    assert window.bottom.said.text() == "outlet.yaml is written"
    assert not window.top.save.isEnabled()


@pytest.mark.parametrize(("button", "written"), [("Write over it", True), ("Cancel", False)])
def test_a_file_that_is_there_is_asked_for(
    button: str, written: bool, opened: Opened, tmp_path: Path
) -> None:
    path = tmp_path / "outlet.yaml"
    path.write_text("# mine\n", encoding="utf-8")
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    asked = answering(button)
    QTest.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert len(asked) == 1
    assert "outlet.yaml is there already" in asked[0]
    assert (path.read_text(encoding="utf-8") != "# mine\n") is written
    assert window.written is written


def test_an_opened_file_is_changed_after_one_question(opened: Opened, tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text("view:\n  line_px: 100  # by eye\n", encoding="utf-8")
    window = opened(base=path)
    drag(window, (80, 100), (80, 200))
    asked = answering("Change mine.yaml")
    QTest.mouseClick(window.top.save, LEFT)
    assert asked == ["Change the marks in mine.yaml? All else in it, remarks too, stays as it is."]
    assert "# by eye" in path.read_text(encoding="utf-8")
    press(window, Qt.Key.Key_Down)
    QTest.mouseClick(window.top.save, LEFT)
    assert load_outlet(path).view.line_px == window.setup.now.line_px


def test_what_cannot_be_written_is_said_and_stays(opened: Opened, tmp_path: Path) -> None:
    window = opened(out=tmp_path / "none" / "outlet.yaml")
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    asked = answering("Go on")
    QTest.mouseClick(window.top.save, LEFT)
    assert "cannot be written" in asked[0]
    assert window.setup.unsaved
    assert not window.written


@pytest.mark.parametrize(
    ("button", "stays", "written"),
    [("Stay", True, False), ("Leave without saving", False, False), ("Save", False, True)],
)
def test_leaving_with_something_unsaved_is_asked(
    button: str, stays: bool, written: bool, opened: Opened, tmp_path: Path
) -> None:
    window = opened()
    QTest.mouseClick(window.canvas, LEFT, pos=at(window, 80, 200))
    asked = answering(button)
    window.close()
    assert asked == ["Some marks are not saved in outlet.yaml."]
    assert window.isVisible() is stays
    assert (tmp_path / "outlet.yaml").exists() is written


def test_leaving_with_nothing_unsaved_is_not_asked(opened: Opened) -> None:
    window = opened()
    assert window.close()


def test_the_picture_that_the_user_chose_stays(opened: Opened) -> None:
    window = opened()
    dark = Still(name=PATHS, pixels=np.zeros((480, 160), np.uint8))
    box = window.bottom.pictures
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Home)
    box.activated.emit(0)
    window.bottom.add((dark,))
    assert box.currentText() == "first picture"
    middle = at(window, 80, 240)
    assert window.canvas.grab().toImage().pixelColor(middle).red() == 180
    box.setCurrentIndex(1)
    assert window.canvas.grab().toImage().pixelColor(middle).red() == 0


def test_all_paths_are_shown_once_they_are_known(opened: Opened) -> None:
    window = opened()
    window.bottom.add((Still(name=PATHS, pixels=np.zeros((480, 160), np.uint8)),))
    assert window.bottom.pictures.currentText() == PATHS


def test_what_is_wrong_stands_beside_the_picture(opened: Opened) -> None:
    window = opened()
    window.become(placed(window.setup, Mark.LINE, 2.0))
    assert "counting line: 2 px from the border" in window.saying.text.toPlainText()
    assert "open: the middle" not in window.table.rows[Mark.LINE].accessibleName()
    assert "open: heights" in window.table.rows[Mark.LIP].accessibleName()


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dark", "light"])
@pytest.mark.parametrize("falls", Falls)
def test_all_marks_are_drawn_in_their_colours(falls: Falls, theme: Theme, opened: Opened) -> None:
    window = opened(theme=theme)
    setup = window.setup
    for mark in (Mark.LINE, Mark.LIP, Mark.BEAM, Mark.BLADE):
        setup = placed(setup, mark, {"line": 100.0}.get(mark.name.lower(), 140.0))
    window.become(measured(setup, 5.0))
    QTest.mouseClick(window.top.ways[falls], LEFT)
    image = window.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    shown = np.unique(np.frombuffer(image.constBits(), np.uint32) & 0xFFFFFF)
    colours = {f"#{colour:06x}" for colour in shown.tolist()}
    assert {theme.background, theme.line, theme.lip, theme.beam, theme.blade} <= colours


def test_the_check_answers_and_is_asked_again(
    qapp: QApplication, qtbot: QtBot, write_clip: Callable[..., Path]
) -> None:
    application(DARK)
    pictures = [np.full((120, 60), 180, np.uint8) for _ in range(40)]
    for number, picture in enumerate(pictures[15:30]):
        picture[8 * number : 8 * number + 6, 20:40] = 40
    clip = write_clip("pour.mkv", pictures, range(0, 320, 8))
    still = first_still(clip)
    height, width = still.pixels.shape
    with Looker(clip) as looker:
        target = Target(out=Path("outlet.yaml"))
        window = SetUpWindow(set_up(height, width), still, target, looker, DARK, title="clip.mp4")
        window.show()
        qtbot.waitUntil(lambda: window.bottom.pictures.count() > 2, timeout=20_000)
        assert "passed the line" in window.saying.text.toPlainText()
        assert window.bottom.pictures.currentText() == PATHS
        window.become(placed(window.setup, Mark.LINE, height / 3))
        assert not window.saying.is_up_to_date
        qtbot.waitUntil(lambda: window.saying.is_up_to_date, timeout=20_000)
        window.setup = set_up(height, width)
        window.close()
    window.deleteLater()


def test_twenty_openings_leave_no_window_behind(opened: Opened, qapp: QApplication) -> None:
    def windows() -> int:
        qapp.sendPostedEvents(None, 52)  # DeferredDelete
        gc.collect()
        return len(qapp.topLevelWidgets())

    before = windows()
    for _ in range(20):
        window = SetUpWindow(
            set_up(480, 160), GREY, Target(out=Path("outlet.yaml")), None, DARK, title="pour.mp4"
        )
        window.show()
        qapp.processEvents()
        window.close()
        window.deleteLater()
        del window
    assert windows() == before
