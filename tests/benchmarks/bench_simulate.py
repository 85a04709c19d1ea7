"""How long a pour takes to simulate: 2 s of a column of 60 screws, 160 x 480, 120 a second.

Everything is counted: paths, drawing, noise, truth, encoding. Beside it the time of encoding
noise alone, so that machines can be compared. Run it as
``python tests/benchmarks/bench_simulate.py [--json] [--runs N]``.
"""

import argparse
import json
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from viscount.clips.writer import ClipWriter
from viscount.simulate.pour import Pour, write_pour
from viscount.simulate.scene import load_scene

SCENE = Path(__file__).resolve().parents[2] / "fixtures" / "scenes" / "column-60-120.yaml"
SECONDS = 2.0


def simulating(folder: Path) -> float:
    """Return the seconds that a whole pour takes."""
    scene = load_scene(SCENE).model_copy(update={"duration_s": SECONDS})
    started = time.perf_counter()
    write_pour(scene, folder)
    return time.perf_counter() - started


def encoding(folder: Path) -> float:
    """Return the seconds that encoding as many pictures of noise takes."""
    pour = Pour(load_scene(SCENE).model_copy(update={"duration_s": SECONDS}))
    rng = np.random.default_rng(1)
    grain = np.clip(190 + 2 * rng.standard_normal((480, 160)), 0, 255).astype(np.uint8)
    started = time.perf_counter()
    with ClipWriter(folder / "noise.mp4", 160, 480) as writer:
        for k, stamp in enumerate(pour.times):
            writer.write(np.roll(grain, k, axis=0), stamp.file_t_ns)
    return time.perf_counter() - started


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    pairs = []
    for _ in range(given.runs):
        with tempfile.TemporaryDirectory() as folder:
            pairs.append((simulating(Path(folder) / "pour"), encoding(Path(folder))))
    figures = {
        "pour_s": SECONDS,
        "simulating_s": statistics.median(s for s, _ in pairs),
        "simulating_per_encoding": statistics.median(s / e for s, e in pairs),
    }
    if given.json:
        print(json.dumps(figures))
    else:
        for name, value in figures.items():
            print(f"{name:<26}{value:.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
