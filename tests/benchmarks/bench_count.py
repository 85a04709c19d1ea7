"""Counting against decoding alone, side by side in one run, one decoder thread each.

The clip is drawn for the purpose: VGA, H.264 crf 20, noise of 2 grey, six parts in view. Start-up
(opening, learning the background) is left out of both. Run it as
``python tests/benchmarks/bench_count.py [--json] [--frames N] [--pairs N]``.
"""

import argparse
import json
import statistics
import sys
import tempfile
import time
from pathlib import Path

import cv2

from viscount.clips.reader import ClipReader
from viscount.clips.writer import ClipWriter
from viscount.offline import count
from viscount.outlet import Outlet
from viscount.simulate.pour import simulate
from viscount.simulate.scene import Belt, Box, Camera, Escapement, Lanes, Scene, View
from viscount.values import Frame

FPS = 120.0
STARTUP_FRAMES = 100


def scene(frames: int) -> Scene:
    """Six parts in view at any time, in three lanes, down 480 px at 1.5 m/s."""
    # A part is in view for (480 + 32) px / 6000 px/s = 85 ms: six parts at 14.2 ms.
    interval_ms = 1e3 * (480 + 32) / 6000 / 6
    parts = int(1e3 * frames / FPS / interval_ms) - 6
    return Scene(
        name="bench",
        seed=1,
        parts=(Box(along_mm=8.0, across_mm=4.0),),
        release=Escapement(count=parts, interval_ms=interval_ms, jitter_ms=1.0),
        motion=Belt(speed_mm_s=1500.0),
        lanes=Lanes(positions_mm=(-40.0, 0.0, 40.0)),
        view=View(width_px=640, height_px=480, scale_px_per_mm=4.0, lip_px=-16.0, line_px=240.0),
        camera=Camera(fps=FPS, noise=2.0, background_grey=190.0, part_grey=40.0, blur_px=0.6),
        lead_in_s=STARTUP_FRAMES / FPS,
    )


class Stopwatch:
    """Notes when the first frame after start-up is counted."""

    def __init__(self) -> None:
        self.started = 0.0
        self.frames = 0

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Nothing to note yet."""

    def frame(self, frame: Frame) -> None:
        """Start the watch once start-up is over."""
        self.frames += 1
        if self.frames == STARTUP_FRAMES:
            self.started = time.perf_counter()


def counting_s(clip: Path) -> tuple[float, int | None, str]:
    """Return seconds of counting after start-up, the count and its status."""
    watch = Stopwatch()
    outlet = Outlet.model_validate(
        {"motion": {"kind": "belt"}, "view": {"line_px": 240, "scale_px_per_mm": 4.0}}
    )
    tally = count(clip, outlet=outlet, watcher=watch, threads=1)
    return time.perf_counter() - watch.started, tally.count, tally.status.value


def decoding_s(clip: Path) -> float:
    """Return seconds of decoding alone after start-up."""
    started = 0.0
    with ClipReader(clip, threads=1) as reader:
        for index, _ in enumerate(reader, start=1):
            if index == STARTUP_FRAMES:
                started = time.perf_counter()
    return time.perf_counter() - started


def main() -> int:
    """Run the bench; exit status 0 whatever the figures are."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--frames", type=int, default=3000)
    parser.add_argument("--pairs", type=int, default=5)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "bench.mp4"
        pour = simulate(scene(given.frames))
        with ClipWriter(clip, 640, 480, crf=20) as writer:
            for t_ns, pixels in pour.frames():
                writer.write(pixels, t_ns)
        true = sum(part.line_t_ns is not None for part in pour.truth.parts)
        ratios, counted, decoded = [], [], []
        for _ in range(given.pairs):
            decoded.append(decoding_s(clip))
            seconds, found, status = counting_s(clip)
            counted.append(seconds)
            ratios.append(seconds / decoded[-1])
    frames = len(pour.times) - STARTUP_FRAMES
    figures = {
        "bench": "count",
        "frames": frames,
        "true": true,
        "count": found,
        "status": status,
        "decode_ms_per_frame": round(1e3 * statistics.median(decoded) / frames, 4),
        "count_ms_per_frame": round(1e3 * statistics.median(counted) / frames, 4),
        "ratio": round(statistics.median(ratios), 3),
        "ratio_range": [round(min(ratios), 3), round(max(ratios), 3)],
        "opencv": cv2.__version__,
    }
    if given.json:
        print(json.dumps(figures))
    else:
        for key, value in figures.items():
            print(f"{key:>20}  {value}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
