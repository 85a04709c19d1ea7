"""`viscount outlet draw` from its call to its exit, with a user who clicks."""

import os
import signal
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from viscount.cli import run
from viscount.monitor.setup_view.window import SetUpWindow
from viscount.outlet import load_outlet

ClipMaker = Callable[..., Path]


@pytest.fixture
def clip(write_clip: ClipMaker) -> Path:
    pictures = [np.full((120, 60), 180, np.uint8) for _ in range(40)]
    for number, picture in enumerate(pictures[15:30]):
        picture[8 * number : 8 * number + 6, 20:40] = 40
    return write_clip("pour.mkv", pictures, range(0, 320, 8))


def meanwhile(act: Callable[[SetUpWindow], None]) -> None:
    """Have this done once the window is open."""

    def give_up() -> None:
        question = QApplication.activeModalWidget()
        if question is not None:
            question.close()
            QApplication.exit(1)

    def look() -> None:
        found = [one for one in QApplication.topLevelWidgets() if isinstance(one, SetUpWindow)]
        shown = [one for one in found if one.isVisible()]
        if shown:
            QTimer.singleShot(5_000, shown[0], give_up)
            act(shown[0])
        else:
            QTimer.singleShot(10, look)

    QTimer.singleShot(0, look)


def place_line(window: SetUpWindow) -> None:
    x, y = window.canvas.showing.to_window(30, 80)
    QTest.mouseClick(window.canvas, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))


def test_marks_are_saved_and_the_next_step_is_told(
    clip: Path, qapp: QApplication, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def act(window: SetUpWindow) -> None:
        place_line(window)
        QTest.mouseClick(window.top.save, Qt.MouseButton.LeftButton)
        window.close()

    meanwhile(act)
    out = tmp_path / "mine.yaml"
    assert run(["outlet", "draw", str(clip), "--out", str(out), "--theme", "light"]) == 0
    told = capsys.readouterr().out
    assert told == f"{out} is written; next: viscount count {clip} --outlet {out}\n"
    assert load_outlet(out).view.line_px == pytest.approx(80, abs=1)
    assert run(["outlet", "check", str(out)]) == 0


def test_a_window_that_is_shut_writes_nothing(
    clip: Path,
    qapp: QApplication,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    meanwhile(lambda window: window.close() and None)
    assert run(["outlet", "draw", str(clip)]) == 0
    assert capsys.readouterr().out == "nothing was written\n"
    assert sorted(tmp_path.iterdir()) == before


def test_ctrl_c_in_the_terminal_ends_it(
    clip: Path, qapp: QApplication, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def act(window: SetUpWindow) -> None:
        place_line(window)
        os.kill(os.getpid(), signal.SIGINT)

    meanwhile(act)
    before = signal.getsignal(signal.SIGINT)
    assert run(["outlet", "draw", str(clip), "--out", str(tmp_path / "o.yaml")]) == 130
    assert signal.getsignal(signal.SIGINT) is before
    assert not (tmp_path / "o.yaml").exists()


def test_a_recording_that_cannot_be_read_opens_no_window(
    qapp: QApplication, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["outlet", "draw", str(tmp_path / "none.mp4")]) == 2
    assert "none.mp4" in capsys.readouterr().err
