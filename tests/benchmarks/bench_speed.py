"""What each stage of counting costs, and what it depends on.

    python tests/benchmarks/bench_speed.py [--json] [--quick] [--frames N] [--parts N]

- Time per frame of decoding, detecting and tracking against parts in view and picture size, as
  ratios to decoding in the same run: this process's own time, one thread.
- Work per frame of a live run with many parts in view: median, ninetieth and 99th in a hundred.
- Time per part of the tracker against the length of a pour.
- Memory of the tracker over a stream of many parts, in a child process: as a recorded clip and
  with a live lag of 100 ms. The greatest resident memory after a tenth of the parts, and after
  all, should be the same. `--parts 1000000` is the full length; the live run takes a tenth.
"""

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import cv2
from rich.console import Console
from rich.table import Table

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.speed.frames import worked
from benchmarks.speed.stages import timed

STREAMED = Path(__file__).resolve().parent / "speed" / "streamed.py"
IN_VIEW = (1, 5, 20, 50, 100, 200)
SIZES = ((160, 480), (320, 640), (640, 480), (1280, 720))
DENSE_SIZE = (1280, 480)
"""Wide enough for the lanes of two hundred parts."""
USUAL_IN_VIEW = 5
LIVE_SIZE, LIVE_IN_VIEW, LIVE_FRAMES = (160, 480), (5, 20), 4
"""A live view, parts in it, and so many times the frames of the other clips."""
POURS = (10, 100, 1000)
LIVE_MS = 100
LIVE_SHARE = 10


def stages(sizes: list[tuple[int, int, int]], frames: int) -> list[dict[str, Any]]:
    """Time the stages for each (width, height, parts in view)."""
    found = []
    for width, height, in_view in sizes:
        with tempfile.TemporaryDirectory(prefix="speed-") as folder:
            found.append(timed(width, height, in_view, frames, Path(folder)).as_json())
    return found


def live(frames: int) -> list[dict[str, Any]]:
    """Time each frame of live runs."""
    found = []
    for in_view in LIVE_IN_VIEW:
        with tempfile.TemporaryDirectory(prefix="speed-") as folder:
            runs = worked(*LIVE_SIZE, in_view, LIVE_FRAMES * frames, Path(folder))
            found += [one.as_json() for one in runs]
    return found


def streamed(parts: int, lag_ms: int) -> dict[str, Any]:
    """Run a stream in a child process, whose memory is its own."""
    command = [sys.executable, str(STREAMED), str(parts), str(lag_ms)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def table(title: str, rows: list[dict[str, Any]]) -> Table:
    """Return rows of like keys as a table."""
    made = Table(title=title)
    for key in rows[0]:
        made.add_column(key, justify="right")
    for row in rows:
        made.add_row(*(str(value) for value in row.values()))
    return made


def main() -> int:
    """Measure and print; exit status 0 whatever the figures are."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--quick", action="store_true", help="less of everything: about a minute")
    parser.add_argument("--frames", type=int, help="of each clip (default 300, quick 60)")
    parser.add_argument("--parts", type=int, help="of the long stream (150000, quick 2000)")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    frames = given.frames or (60 if given.quick else 300)
    parts = given.parts or (2_000 if given.quick else 150_000)
    in_view = [n for n in IN_VIEW if not given.quick or n <= 20]
    pours = [n for n in POURS if not given.quick or n <= 100]
    figures = {
        "bench": "speed",
        "opencv": cv2.__version__,
        "parts_in_view": stages([(*DENSE_SIZE, n) for n in in_view], frames),
        "picture_size": stages([(*size, USUAL_IN_VIEW) for size in SIZES], frames),
        "live_work_per_frame": live(frames),
        "pour_length": [streamed(n, 0) for n in pours],
        "long_stream": [
            streamed(parts, 0),
            streamed(max(parts // LIVE_SHARE, 1), LIVE_MS),
        ],
    }
    if given.json:
        print(json.dumps(figures))
        return 0
    console = Console()
    if not console.is_terminal:
        console.width = 160
    for key, rows in figures.items():
        if isinstance(rows, list):
            console.print(table(key.replace("_", " "), rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())
