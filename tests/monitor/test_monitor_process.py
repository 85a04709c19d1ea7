"""The window as a process beside a run: it stays, it goes, and the run takes no notice."""

from functools import partial
from multiprocessing import active_children
from pathlib import Path

import pytest
from commands import call

from viscount.monitor.model.facts import Facts
from viscount.monitor.opening import watch
from viscount.outlet import load_outlet
from viscount.session.live_run import LiveRun
from viscount.session.plan import LivePlan

FOLDER = Path(__file__).parents[2] / "fixtures" / "screws"


def test_a_run_with_a_window_counts_the_same_and_the_window_stays() -> None:
    plan = LivePlan(source=str(FOLDER / "clip.mp4"), outlet=load_outlet(FOLDER / "outlet.yaml"))
    shown = partial(watch, Facts(title="screws", outlet=plan.outlet, expected=12), "dark")
    with LiveRun(plan, shown=[shown]) as run:
        assert run.result(60.0).tally.count == 12
    assert len(run.windows) == 1
    run.windows.end()
    assert active_children() == []


def test_ctrl_c_closes_a_window_that_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = LivePlan(source=str(FOLDER / "clip.mp4"), outlet=load_outlet(FOLDER / "outlet.yaml"))
    with LiveRun(plan, shown=[partial(watch, Facts(title="screws"), "light")]) as run:
        run.result(60.0)
    process = run.windows._open[0]

    def interrupted(self: object, timeout: float | None = None) -> None:
        monkeypatch.undo()
        raise KeyboardInterrupt

    monkeypatch.setattr(type(process), "join", interrupted)
    run.windows.wait()
    assert active_children() == []


def test_the_command_plays_what_it_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    played = []
    monkeypatch.setattr("viscount.monitor.opening.play", lambda *told: played.append(told))
    answer = call(
        *("monitor", FOLDER / "clip.mp4", "--outlet", FOLDER / "outlet.yaml"),
        *("--speed", "0.1", "--theme", "light", "--expect", 12),
    )
    assert answer.status == 0, answer.err
    assert "12 parts through the line: clean" in answer.out
    ((model, theme),) = played
    assert (model.speed, theme, model.numbers.wanted) == (0.1, "light", 12)
    model.step(model.frames)
    assert model.numbers.in_bag == 12


def test_a_window_that_nobody_closes_can_be_closed_by_a_key(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from PySide6.QtCore import Qt, QTimer
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication

    application = QApplication.instance() or QApplication([])

    def close() -> None:
        for window in QApplication.topLevelWidgets():
            if window.windowTitle() == "viscount: clip.mp4":
                QTest.keyClick(window, Qt.Key.Key_Q)

    timer = QTimer()
    timer.timeout.connect(close)
    timer.start(50)
    answer = call("monitor", FOLDER / "clip.mp4", "--outlet", FOLDER / "outlet.yaml")
    timer.stop()
    assert answer.status == 0, answer.err
    assert application is not None
