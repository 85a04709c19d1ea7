import re

import numpy as np
import pytest
from commands import FIXTURES, Terminal, call
from tallies import tally

from viscount.cli.progress import Progress, Together
from viscount.clips.reader import ClipReader
from viscount.outlet import Outlet
from viscount.tally import Tally
from viscount.values import Frame

CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
CLIP = FIXTURES / "screws" / "clip.mp4"


def frame(index: int) -> Frame:
    return Frame(index=index, t_ns=index, pixels=np.zeros((2, 2), np.uint8))


class Listener:
    def __init__(self) -> None:
        self.heard: list[object] = []

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        self.heard.append((line_px, frames))

    def frame(self, frame: Frame) -> None:
        self.heard.append(frame.index)


def test_several_watchers_hear_the_same() -> None:
    one, other = Listener(), Listener()
    both = Together([one, other])
    both.start(Outlet(), 3.0, 7)
    both.frame(frame(5))
    assert one.heard == other.heard == [(3.0, 7), 5]


@pytest.mark.parametrize("frames", [None, 64])
def test_the_bar_follows_the_frames(frames: int | None, monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    with Progress("[x] pour.mp4") as progress:
        progress.start(Outlet(), 3.0, frames)
        for index in range(64):
            progress.frame(frame(index))
    assert "[x] pour.mp4" in screen.getvalue()
    assert f"64/{frames or '?'} frames" in CODES.sub("", screen.getvalue())


def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    def counted(*_: object, watcher: Together | None, **__: object) -> Tally:
        if watcher is not None:
            watcher.start(Outlet(), 3.0, None)
        return tally()

    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr("viscount.cli.counting.offline_count", counted)
    assert "frames" in call("count", CLIP, on_terminal=True).err
    assert call("count", CLIP).err == ""
    assert call("count", CLIP, "--json", on_terminal=True).err == ""


def test_the_number_of_frames_is_known_where_the_header_does_not_state_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The fixture is a fragmented file, whose header states none."""
    heard = []
    monkeypatch.setattr(Progress, "start", lambda self, outlet, line, frames: heard.append(frames))
    call("count", CLIP, on_terminal=True)
    with ClipReader(CLIP) as clip:
        assert clip.report().header.frames is None
        assert heard == [sum(1 for _ in clip)]
