"""Pictures of the monitor's window, without a screen: a recording played, and bags packed.

Run it as ``python tests/benchmarks/screenshots.py --out DIR [--json]``. It simulates the demo's
pour with its beam, a pour of which the beam misses parts, and a packing machine in time of its
own; each is shown at two sizes, dark and light.
"""

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"
sys.path.insert(0, str(Path(__file__).parents[1]))

from filmed_packing import FilmedPacking
from PySide6.QtWidgets import QApplication

from viscount.devices.cameras.watcher import Watcher
from viscount.monitor.model.facts import Facts
from viscount.monitor.model.monitor import Monitor
from viscount.monitor.model.playback import Playback
from viscount.monitor.recording import played
from viscount.monitor.theme import DARK, LIGHT
from viscount.monitor.window.monitor_window import MonitorWindow
from viscount.offline import count
from viscount.packing.machine import Phase
from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import load_scene
from viscount.tally import Tally

SIZES = ((1280, 800), (1920, 1080))
THEMES = (DARK, LIGHT)
MISSES = Path(__file__).parents[2] / "fixtures" / "scenes" / "beam-misses.yaml"


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
    packed = FilmedPacking(100)
    packed.until(lambda: packed.rig.machine.bag == 2 and packed.model.numbers.in_bag == 5)
    album.take("packing", packed.model, lambda window: None)
    short = FilmedPacking(11)
    short.until(lambda: short.rig.machine.phase is Phase.ATTENTION)
    here_ns = short.rig.now_ns
    short.until(lambda: short.rig.now_ns > here_ns + 1_500_000_000)
    album.take("short", short.model, lambda window: None)
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
