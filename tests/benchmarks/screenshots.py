"""Pictures of the monitor's window, without a screen: a recording played, and bags packed.

Run it as ``python tests/benchmarks/screenshots.py --out DIR [--json]``. It simulates the demo's
pour with its beam, a pour of which the beam misses parts, and a packing machine with its board;
each is shown at two sizes, dark and light.
"""

import argparse
import json
import os
import sys
import tempfile
import threading
from collections.abc import Callable
from multiprocessing import Pipe
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"
sys.path.insert(0, str(Path(__file__).parents[1]))

from live_cameras import opening
from pouring_camera import OUTLET, order, pouring
from pty_boards import PtyBoard, PtyPorts
from PySide6.QtWidgets import QApplication

from viscount.clock import Alarm, SystemClock
from viscount.devices.cameras.watcher import Watcher
from viscount.hooks.loading import load_plugins
from viscount.monitor.model.facts import Facts, needed_by_order
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.playback import Playback
from viscount.monitor.opening import feed_from
from viscount.monitor.recording import played
from viscount.monitor.theme import DARK, LIGHT
from viscount.monitor.window.monitor_window import MonitorWindow
from viscount.offline import count
from viscount.packing.events import Said, Word
from viscount.packing.machine import Phase
from viscount.session.engine import Engine
from viscount.session.feed import Feed
from viscount.session.messages import Packing, Value
from viscount.session.observer import ObserverEnd
from viscount.session.packing import packer_for
from viscount.session.picture_board import PictureBoard
from viscount.session.plan import LivePlan
from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import load_scene
from viscount.tally import Tally
from viscount.testing.board import BoardSettings

SIZES = ((1280, 800), (1920, 1080))
THEMES = (DARK, LIGHT)
MISSES = Path(__file__).parents[2] / "fixtures" / "scenes" / "beam-misses.yaml"
BOARD = BoardSettings(starts_ms=50, on_ms=8000, duty_percent=100)


class Album:
    """Takes pictures of a model in every size and theme."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.taken: list[str] = []

    def take(self, name: str, model: Monitor, prepare: Callable[[MonitorWindow], None]) -> None:
        for theme in THEMES:
            for width, height in SIZES:
                window = MonitorWindow(model, theme)
                window.resize(width, height)
                window.show()
                window.draw()
                prepare(window)
                for _ in range(2):
                    model.revision += 1
                    window.draw()
                    QApplication.processEvents()
                path = self.out / f"{name}-{theme.name}-{width}x{height}.png"
                window.grab().save(str(path))
                self.taken.append(path.name)
                window.close()
                window.deleteLater()
                QApplication.processEvents()


def recording(scene: object, folder: Path, needed_ms: float, expected: int) -> Playback:
    """Simulate a pour, count its files, and return it ready to be played."""
    pour = write_pour(scene, folder)  # type: ignore[arg-type]

    def counted(watcher: Watcher) -> Tally:
        return count(
            pour.clip, outlet=pour.outlet, beam=pour.beam, watcher=watcher, expected=expected
        )

    facts = Facts(title="demo", expected=expected, needed_ms=needed_ms, has_beam=True)
    return played(pour.clip, facts, counted)


class Packed:
    """A packing machine in this process, and its monitor's model.

    Parameters
    ----------
    parts : in the magazine, so that the last bag is short.
    patient : whoever packs sets aside what is not good, and goes on.
    """

    def __init__(
        self, folder: Path, parts: int, each: int, bags: int, *, patient: bool = False
    ) -> None:
        self._patient = patient
        folder.mkdir()
        self._reads, writes = Pipe(duplex=False)
        self._feed = Feed(writes)
        self.board, self.pictures = PtyBoard(BOARD), PictureBoard()
        self.board.__enter__()
        _, camera = pouring(self.board, parts)
        asked = order(each, bags)
        plan = LivePlan(source="pouring", outlet=OUTLET, pack=asked, journal=folder / "bags.jsonl")
        clock, registry = SystemClock(), load_plugins([])
        self._engine = Engine(
            plan,
            registry,
            clock,
            camera=opening(camera),
            tell=self._told,
            show=self.pictures,
            ports=PtyPorts(self.board),
            packer=packer_for(plan, registry, clock, self._told),
        )
        needed = needed_by_order(asked)
        facts = Facts(title="packing", outlet=OUTLET, needed_ms=needed, has_beam=True, packs=True)
        self.model = Monitor(facts)
        self.now: Packing | None = None
        self.bring = feed_from(self.model, ObserverEnd(self.pictures, self._reads))
        self._answered = ""
        self._thread = threading.Thread(target=self._engine.run, daemon=True)
        self._thread.start()

    def _told(self, value: Value) -> None:
        self._feed.put(value)
        if isinstance(value, Packing):
            self.now = value
            here = f"{value.bag} {value.phase}"
            if here == self._answered:
                return
            self._answered = here
            if value.phase == Phase.WAITING:
                self._engine.press(Said(word=Word.BAG, bag=value.bag))
            elif value.phase == Phase.ATTENTION and self._patient:
                self._engine.press(Said(word=Word.ASIDE, bag=value.bag))

    def until(self, true: Callable[[], bool]) -> None:
        alarm = Alarm()
        for _ in range(3000):
            self.bring()
            if true():
                return
            alarm.wait(0.02)
        raise AssertionError("it never came about")

    def end(self) -> None:
        self._engine.stop()
        self._thread.join(20)
        self.board.__exit__(None, None, None)
        self.pictures.close()


def _at(t_s: float) -> Callable[[MonitorWindow], None]:
    def prepare(window: MonitorWindow) -> None:
        assert window.played is not None
        window.played.go_to_s(t_s)

    return prepare


def pictures(out: Path) -> list[str]:
    """Take all pictures; return their names."""
    album = Album(out)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo = recording(demo_scene(), folder / "demo", 4.0, 24)
        album.take("demo", demo, _at(1.01))
        album.take("help", demo, lambda window: window.help.show())
        missed = recording(load_scene(MISSES), folder / "missed", 12.0, 15)
        album.take("missed", missed, _at(0.86))
        album.take("proof", missed, lambda window: window.go_to_doubt(1))
        packed = Packed(folder / "good", 100, 6, 9, patient=True)
        try:
            packed.until(
                lambda: (
                    packed.model.numbers.bag.startswith("bag 2")
                    and packed.model.numbers.in_bag == 5
                )
            )
            album.take("packing", packed.model, lambda window: None)
        finally:
            packed.end()
        short = Packed(folder / "short", 11, 6, 2)
        try:
            short.until(lambda: short.now is not None and short.now.phase == Phase.ATTENTION)
            short.until(lambda: len(short.model.doubts) > 0 and short.model.settled)
            album.take("short", short.model, lambda window: None)
        finally:
            short.end()
    return album.taken


def main() -> None:
    """Take the pictures into a folder."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--out", type=Path, required=True)
    asked.add_argument("--json", action="store_true")
    given = asked.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    application = QApplication.instance() or QApplication(["viscount"])
    taken = pictures(given.out)
    del application
    print(json.dumps({"pictures": taken}) if given.json else "\n".join(taken))


if __name__ == "__main__":
    main()
