"""The monitor's window: real keys and clicks, and what it leaves behind."""

import gc
import threading
from multiprocessing import active_children

import pytest
from played import FRAMES, playback
from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from watched import FPS, OUTLET, began, passage, passed, pulse, pulsed, snapshot, taken

from viscount.monitor.model.facts import Facts
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.standing import Shape
from viscount.monitor.theme import DARK, LIGHT
from viscount.monitor.window.help_view import KEYS, PLAYED
from viscount.monitor.window.monitor_window import MonitorWindow
from viscount.monitor.window.sizes import sizes_of

KEY = Qt.Key
LEFT = Qt.MouseButton.LeftButton


class Stands:
    """A clock that goes only when it is told to."""

    def __init__(self) -> None:
        self.t_ns = 0

    def now_ns(self) -> int:
        return self.t_ns

    def date(self) -> object:
        raise NotImplementedError


def opened(qtbot: QtBot, model: Monitor, **more: object) -> MonitorWindow:
    window = MonitorWindow(model, DARK, **more)  # type: ignore[arg-type]
    window._timer.stop()
    qtbot.addWidget(window)
    window.show()
    window.draw()
    return window


def live_model(parts: int = 5, **more: object) -> Monitor:
    model = Monitor(Facts(title="live", outlet=OUTLET, has_beam=True, **more))  # type: ignore[arg-type]
    model.take(began(beam_px=120.0, blade_px=140.0))
    times = [0.5 + 0.05 * k for k in range(parts)]
    model.saw([taken(k, times) for k in range(round((0.05 * parts + 0.65) * FPS))])
    for k, t in enumerate(times):
        model.take(passed(passage(k, t)))
        model.take(pulsed(pulse(k, t + 0.02)))
    model.take(snapshot(0.05 * parts + 0.65, parts, parts))
    return model


def clicked(qtbot: QtBot, window: MonitorWindow, row: int) -> None:
    item = window.list.item(row)
    at = window.list.visualItemRect(item).center()
    qtbot.mouseClick(window.list.viewport(), LEFT, pos=at)


class Paints(QObject):
    """Counts how often a view is painted."""

    number = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        self.number += event.type() is QEvent.Type.Paint
        return super().eventFilter(watched, event)


def test_what_is_new_is_painted_once(qtbot: QtBot) -> None:
    """Numbers that are put in their place only while they are painted ask for it a second time."""
    model = live_model(needed_ms=12.0)
    window = opened(qtbot, model)
    views = {view: Paints() for view in (window.times, window.gaps)}
    for view, paints in views.items():
        view.viewport().installEventFilter(paints)
    for k in range(5, 15):
        model.take(passed(passage(k, 0.5 + 0.05 * k)))
        model.take(snapshot(0.65 + 0.05 * k, k, k))
        QApplication.processEvents()
        for paints in views.values():
            paints.number = 0
        window.draw()
        QApplication.processEvents()
        assert [paints.number for paints in views.values()] == [1, 1]


def test_keys_play_step_and_change_the_speed(qtbot: QtBot) -> None:
    model = playback()
    window = opened(qtbot, model)
    qtbot.keyClick(window, KEY.Key_Right)
    assert model.index == 1
    qtbot.keyClick(window, KEY.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert model.index == 11
    qtbot.keyClick(window, KEY.Key_Left)
    assert model.index == 10
    qtbot.keyClick(window, KEY.Key_End)
    assert model.index == FRAMES - 1
    qtbot.keyClick(window, KEY.Key_Home)
    assert model.index == 0
    qtbot.keyClick(window, KEY.Key_Down)
    assert model.speed == 0.5
    qtbot.keyClick(window, KEY.Key_Up)
    assert model.speed == 1.0
    qtbot.keyClick(window, KEY.Key_Space)
    assert model.playing
    assert window.transport is not None
    assert window.transport.play.text() == "Pause"
    qtbot.keyClick(window, KEY.Key_Space)
    assert not model.playing


def test_it_plays_by_the_clock_and_draws_only_what_is_new(qtbot: QtBot) -> None:
    clock, model = Stands(), playback()
    window = opened(qtbot, model, clock=clock)
    before = window.draws
    for _ in range(5):
        clock.t_ns += 70_000_000
        window.tick()
    assert window.draws == before, "nothing was new"
    qtbot.keyClick(window, KEY.Key_Space)
    before = window.draws
    for _ in range(5):
        clock.t_ns += 100_000_000
        window.tick()
    assert model.now_s == pytest.approx(0.5, abs=1.01 / FPS)
    assert window.draws == before + 5


def test_buttons_and_slider_do_the_same(qtbot: QtBot) -> None:
    model = playback()
    window = opened(qtbot, model)
    bar = window.transport
    assert bar is not None
    qtbot.mouseClick(bar.on, LEFT)
    qtbot.mouseClick(bar.on, LEFT)
    qtbot.mouseClick(bar.back, LEFT)
    assert model.index == 1
    qtbot.mouseClick(bar.slower, LEFT)
    assert model.speed == 0.5
    qtbot.mouseClick(bar.faster, LEFT)
    qtbot.mouseClick(bar.play, LEFT)
    assert model.playing
    bar.slider.setValue(100)
    assert (model.index, model.playing) == (100, False)
    window.draw()
    assert "frame 100 of 149" in bar.where.text()
    qtbot.mouseClick(bar.doubt, LEFT)
    assert window.proof.isVisible()


def test_the_next_thing_to_look_at_is_shown_with_its_frames(qtbot: QtBot) -> None:
    model = playback()
    window = opened(qtbot, model)
    qtbot.keyClick(window, KEY.Key_N)
    assert window.proof.isVisible()
    assert window.proof.doubt is not None
    assert window.proof.doubt.t_s == pytest.approx(0.6)
    assert [one.index for one in window.proof.pictures] == list(range(64, 81))
    assert model.now_s == pytest.approx(0.6, abs=1.01 / FPS)
    qtbot.keyClick(window, KEY.Key_N)
    assert window.proof.doubt.t_s == pytest.approx(0.7)
    qtbot.keyClick(window, KEY.Key_N, Qt.KeyboardModifier.ShiftModifier)
    assert window.proof.doubt.t_s == pytest.approx(0.6)
    qtbot.keyClick(window, KEY.Key_Escape)
    assert not window.proof.isVisible()
    qtbot.keyClick(window, KEY.Key_Return)
    assert window.proof.isVisible()
    qtbot.mouseClick(window.proof, LEFT)
    assert not window.proof.isVisible()


def test_a_click_on_the_list_shows_why(qtbot: QtBot) -> None:
    model = playback()
    window = opened(qtbot, model)
    assert window.list.count() == len(model.doubts) > 1
    clicked(qtbot, window, 1)
    assert window.proof.isVisible()
    assert window.proof.doubt is not None
    assert window.times.picked_s == window.proof.doubt.t_s


def test_a_click_on_the_axis_goes_there(qtbot: QtBot) -> None:
    model = playback()
    window = opened(qtbot, model)
    model.go_to_s(0.9)
    window.draw()
    QApplication.processEvents()
    box = window.times.trains.getViewBox()
    place = window.times.mapFromScene(box.mapViewToScene(QPointF(0.6, 0.5)))
    # Qt's own view takes two clicks this close for a double one; one is enough.
    qtbot.mouseClick(window.times.viewport(), LEFT, pos=place)
    assert window.times.picked_s == pytest.approx(0.6, abs=0.01)
    assert model.now_s == pytest.approx(0.6, abs=0.02)


def test_wheel_and_keys_zoom_in_time(qtbot: QtBot) -> None:
    window = opened(qtbot, playback())
    was = window.times.span_s
    qtbot.keyClick(window, KEY.Key_Plus)
    assert window.times.span_s < was
    qtbot.keyClick(window, KEY.Key_Minus)
    assert window.times.span_s == was
    turned = QWheelEvent(
        QPointF(50, 50),
        QPointF(50, 50),
        QPoint(0, 0),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(window.times.viewport(), turned)
    assert window.times.span_s > was


def test_dark_becomes_light_and_help_lists_every_key(qtbot: QtBot) -> None:
    window = opened(qtbot, playback())
    qtbot.keyClick(window, KEY.Key_T)
    assert window.theme is LIGHT
    qtbot.keyClick(window, KEY.Key_T)
    assert window.theme is DARK
    qtbot.keyClick(window, KEY.Key_F1)
    assert window.help.isVisible()
    assert window.help.rows == (*PLAYED, *KEYS)
    assert window.rect().contains(window.help.geometry())
    qtbot.keyClick(window, KEY.Key_H)
    assert not window.help.isVisible()
    qtbot.keyClick(window, KEY.Key_F)
    assert window.isFullScreen()
    qtbot.keyClick(window, KEY.Key_F)
    qtbot.keyClick(window, KEY.Key_Q)
    assert not window.isVisible()


def test_a_live_run_is_shown_as_it_comes(qtbot: QtBot) -> None:
    model = live_model()
    window = opened(qtbot, model)
    assert window.transport is None
    drawn = window.times.trains
    assert len(window.times._marks.getData()[0]) == 5
    start, end = drawn.getViewBox().viewRange()[0]
    assert start < 0.5 < 0.7 < end
    model.take(passed(passage(9, 0.75, doubt=0.4)))
    model.take(snapshot(1.0, 6, 6))
    window.draw()
    assert len(window.times._doubtful.getData()[0]) == 1
    assert window.list.count() == 1
    assert model.state.shape is Shape.DOUBT
    # Keys of a recording mean nothing here.
    qtbot.keyClick(window, KEY.Key_Space)
    qtbot.keyClick(window, KEY.Key_Right)
    assert window.isVisible()


def test_the_feed_is_asked_before_each_drawing(qtbot: QtBot) -> None:
    model = live_model(0)
    told = iter([snapshot(1.0, 1), snapshot(2.0, 2)])
    window = opened(
        qtbot, model, feed=lambda: [model.take(one) for one in [next(told, None)] if one]
    )
    for wanted in (1, 2):
        window.tick()
        assert model.numbers.in_bag == wanted
    draws = window.draws
    window.tick()
    assert window.draws == draws


@pytest.mark.parametrize("size", [(900, 600), (1280, 800), (1920, 1080), (2560, 1440)])
def test_nothing_is_cut_off_at_any_size(qtbot: QtBot, size: tuple[int, int]) -> None:
    model = playback()
    window = opened(qtbot, model)
    window.resize(*size)
    QApplication.processEvents()
    window.draw()
    assert (window.width(), window.height()) == size
    for panel in window.panels.values():
        assert window.rect().contains(panel.geometry())
        assert panel.rect().contains(panel.content.geometry())
    boxes = [panel.geometry() for panel in window.panels.values()]
    assert not any(a.intersects(b) for a in boxes for b in boxes if a is not b)
    hint = window.hint
    assert hint.fontMetrics().horizontalAdvance(hint.text()) <= hint.width()
    text = sizes_of(window).text
    assert text >= 11.9
    # The card with the keys is as large as its rows need, and no larger than the window.
    assert (window.help.width(), window.help.height()) == window.help.wanted
    assert 0 <= window.help.height() - 1.75 * (len(window.help.rows) + 2.5) * text < 4 * text
    bar = window.transport
    assert bar is not None
    for button in (bar.back, bar.play, bar.on, bar.slower, bar.faster, bar.doubt):
        assert button.fontMetrics().horizontalAdvance(button.text()) < button.width()


def test_twenty_windows_leave_nothing_behind(qtbot: QtBot) -> None:
    model = playback()

    def once() -> None:
        window = MonitorWindow(model, DARK)
        window.show()
        window.draw()
        window.close()
        window.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()

    once()
    gc.collect()
    windows, threads = len(QApplication.topLevelWidgets()), threading.active_count()
    for _ in range(20):
        once()
    gc.collect()
    QApplication.processEvents()
    assert len(QApplication.topLevelWidgets()) <= windows
    assert threading.active_count() == threads
    assert active_children() == []
