"""Counting against decoding alone, side by side in one run, one decoder thread each.

The clip is drawn for the purpose: VGA, H.264 crf 20, noise of 2 grey, six parts in view. Start-up
(opening, learning the background) is left out of both. Decoding alone is one thread, and nothing
beside it. Counting is two, as whoever counts a clip has them: that same decoder, which reads ahead,
and the thread that counts. So ``ratio``, of the time that passes, tells how long one waits where a
second core is free; ``cpu_ratio``, of the time that both threads keep a core busy, tells what
counting costs, and how long one waits where no other core is free. Run it as
``python tests/benchmarks/bench_count.py [--json] [--frames N] [--pairs N]``.
"""

import argparse
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds that passed, and seconds of a core that all threads of this process took."""

    wall_s: float
    cpu_s: float

    @classmethod
    def now(cls) -> "Spent":
        """Return the clocks as they stand."""
        return cls(time.perf_counter(), time.process_time())

    def since(self, start: "Spent") -> "Spent":
        """Return what was spent from then to now."""
        return Spent(self.wall_s - start.wall_s, self.cpu_s - start.cpu_s)


class Stopwatch:
    """Notes when the first frame after start-up is counted."""

    def __init__(self) -> None:
        self.started = Spent.now()
        self.frames = 0

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Nothing to note yet."""

    def frame(self, frame: Frame) -> None:
        """Start the watch once start-up is over."""
        self.frames += 1
        if self.frames == STARTUP_FRAMES:
            self.started = Spent.now()


def counting(clip: Path) -> tuple[Spent, int | None, str]:
    """Return what counting took after start-up, the count and its status."""
    watch = Stopwatch()
    outlet = Outlet.model_validate(
        {"motion": {"kind": "belt"}, "view": {"line_px": 240, "scale_px_per_mm": 4.0}}
    )
    tally = count(clip, outlet=outlet, watcher=watch, threads=1)
    return Spent.now().since(watch.started), tally.count, tally.status.value


def decoding(clip: Path) -> Spent:
    """Return what decoding alone took after start-up."""
    started = Spent.now()
    with ClipReader(clip, threads=1) as reader:
        for index, _ in enumerate(reader, start=1):
            if index == STARTUP_FRAMES:
                started = Spent.now()
    return Spent.now().since(started)


def figures_of(
    decoded: Sequence[Spent], counted: Sequence[Spent], frames: int
) -> dict[str, object]:
    """Return each clock's medians per frame, and the median and range of the pairs' ratios."""
    figures: dict[str, object] = {}
    for prefix, clock in (("", "wall_s"), ("cpu_", "cpu_s")):
        below = [getattr(one, clock) for one in decoded]
        above = [getattr(one, clock) for one in counted]
        ratios = [c / d for c, d in zip(above, below, strict=True)]
        figures |= {
            f"decode_{prefix}ms_per_frame": round(1e3 * statistics.median(below) / frames, 4),
            f"count_{prefix}ms_per_frame": round(1e3 * statistics.median(above) / frames, 4),
            f"{prefix}ratio": round(statistics.median(ratios), 3),
            f"{prefix}ratio_range": [round(min(ratios), 3), round(max(ratios), 3)],
        }
    return figures


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
        counted, decoded = [], []
        for _ in range(given.pairs):
            decoded.append(decoding(clip))
            spent, found, status = counting(clip)
            counted.append(spent)
    frames = len(pour.times) - STARTUP_FRAMES
    figures = {
        "bench": "count",
        "frames": frames,
        "true": true,
        "count": found,
        "status": status,
        **figures_of(decoded, counted, frames),
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
