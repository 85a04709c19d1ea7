"""How soon the window of `viscount outlet draw` is open, and what one step of a drag costs.

``python tests/benchmarks/bench_setup_start.py`` opens it without a screen, each time in a process
of its own as the command does, and prints medians: seconds to the first picture by the clock, and
seconds of processor time, children included. With ``--json`` one JSON object.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
from pathlib import Path

CLIP = Path(__file__).parents[2] / "fixtures" / "screws" / "clip.mp4"
_OPENING = """\
import resource, sys
from viscount.clock import SystemClock
began = SystemClock().now_ns()
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from viscount.monitor.probe import require_window

def opened():
    import json
    own, children = (resource.getrusage(who) for who in
                     (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    used = sum(one.ru_utime + one.ru_stime for one in (own, children))
    print(json.dumps([(SystemClock().now_ns() - began) * 1e-9, used]), flush=True)
    from PySide6.QtWidgets import QApplication
    QApplication.closeAllWindows()

if __name__ == "__main__":
    with ThreadPoolExecutor(1) as pool:
        asked = pool.submit(require_window, plots=False)
        from viscount.monitor.setup.saving import Target
        from viscount.monitor.setup_view.opening import draw_outlet
        from viscount.monitor.theme import DARK
        asked.result()
    from PySide6.QtCore import QTimer
    from viscount.monitor.application import application
    app = application(DARK, plots=False)
    # Once the event loop has nothing else to do: the window is drawn by then.
    QTimer.singleShot(0, lambda: QTimer.singleShot(0, opened))
    draw_outlet(Path(sys.argv[1]), Target(out=Path("never-written.yaml")), DARK, title="pour")
"""


def openings(times: int) -> list[tuple[float, float]]:
    """Seconds by the clock and of processor time, for each opening."""
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    found = []
    for _ in range(times):
        ended = subprocess.run(
            [sys.executable, "-c", _OPENING, str(CLIP)],
            env=environment,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=True,
        )
        clock_s, used_s = json.loads(ended.stdout)
        found.append((clock_s, used_s))
    return found


def step_ms(steps: int = 200) -> float:
    """Processor time of one step of a drag in a window of 1920 x 1080, drawing included."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    import resource

    import numpy as np

    from viscount.monitor.application import application
    from viscount.monitor.setup.gripping import Grip, Handle
    from viscount.monitor.setup.marks import Mark
    from viscount.monitor.setup.moving import framed, grabbed, placed, pulled
    from viscount.monitor.setup.saving import Target
    from viscount.monitor.setup.state import set_up
    from viscount.monitor.setup.stills import Still
    from viscount.monitor.setup_view.window import SetUpWindow
    from viscount.monitor.theme import DARK

    app = application(DARK, plots=False)
    setup = framed(set_up(1080, 1920), Mark.REGION, (800, 0, 1100, 1080))
    for mark in (Mark.LIP, Mark.BEAM, Mark.BLADE, Mark.LINE):
        setup = placed(setup, mark, 500.0)
    still = Still(name="first picture", pixels=np.full((1080, 1920), 180, np.uint8))
    target = Target(out=Path("never-written.yaml"))
    window = SetUpWindow(setup, still, target, None, DARK, title="pour")
    window.resize(1920, 1080)
    window.show()
    app.processEvents()
    window.become(grabbed(window.setup, Grip(mark=Mark.LINE, handle=Handle.WHOLE)))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    for step in range(steps):
        window.become(pulled(window.setup, 0.0, float(step)))
        app.processEvents()
    used = resource.getrusage(resource.RUSAGE_SELF).ru_utime - before
    window.setup = set_up(1080, 1920)
    window.close()
    return 1e3 * used / steps


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    all_of_them = openings(given.times)
    figures = {
        "openings": given.times,
        "open_s": round(statistics.median(one for one, _ in all_of_them), 3),
        "open_cpu_s": round(statistics.median(used for _, used in all_of_them), 3),
        "drag_step_cpu_ms": round(step_ms(), 2),
    }
    print(json.dumps(figures) if given.json else figures)
