"""Pictures of the window of `viscount outlet draw`, taken without a screen.

``python tests/benchmarks/picture_setup.py --out FOLDER`` simulates the demo's pour, marks its
outlet the way a user would, waits for the check, and writes one PNG for each theme and size.
"""

import argparse
import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QElapsedTimer

from viscount.monitor.application import application
from viscount.monitor.setup.looking import Looker
from viscount.monitor.setup.marks import Mark, Ruler
from viscount.monitor.setup.moving import framed, measured, placed, turned
from viscount.monitor.setup.saving import Target
from viscount.monitor.setup.state import SetUp, selecting, set_up, stepped
from viscount.monitor.setup.stills import first_still
from viscount.monitor.setup_view.window import SetUpWindow
from viscount.monitor.theme import THEMES
from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import write_pour
from viscount.values import Falls

SIZES = ((1280, 800), (1920, 1080))
PATIENCE_MS = 120_000


def marked(setup: SetUp) -> SetUp:
    """The demo's outlet, marked mark by mark."""
    from dataclasses import replace

    setup = turned(setup, Falls.DOWN)
    setup = placed(setup, Mark.LINE, 300.0)
    setup = placed(setup, Mark.LIP, -120.0)
    setup = placed(setup, Mark.BEAM, 336.0)
    setup = placed(setup, Mark.BLADE, 420.0)
    setup = framed(setup, Mark.REGION, (24, 0, 140, 480))
    ruler = Ruler(x0_px=40.0, y0_px=120.0, x1_px=40.0, y1_px=280.0)
    setup = measured(stepped(setup, replace(setup.now, ruler=ruler)), 40.0)
    return selecting(setup, Mark.LINE)


def main(out: Path, clip: Path | None) -> None:
    """Write the pictures."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        source = clip or write_pour(demo_scene(), Path(folder)).clip
        still = first_still(source)
        height, width = still.pixels.shape
        for theme in THEMES.values():
            app = application(theme)
            with Looker(source) as looker:
                window = SetUpWindow(
                    set_up(height, width),
                    still,
                    Target(out=Path("outlet.yaml"), source="pour.mp4"),
                    looker,
                    theme,
                    title="pour.mp4",
                )
                window.show()
                if clip is None:
                    window.become(marked(window.setup))
                patience = QElapsedTimer()
                patience.start()
                while not (window.saying.is_up_to_date and window.bottom.pictures.count() > 1):
                    app.processEvents()
                    if patience.elapsed() > PATIENCE_MS:
                        sys.exit("the check has not answered")
                window.bottom.pictures.setCurrentIndex(1)
                for across, down in SIZES:
                    window.resize(across, down)
                    app.processEvents()
                    path = out / f"setup-{theme.name}-{across}x{down}.png"
                    window.grab().save(str(path))
                    print(path, path.stat().st_size)
                window.setup = set_up(height, width)
                window.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--clip", type=Path, help="draw nothing, show this clip instead")
    given = parser.parse_args()
    main(given.out, given.clip)
