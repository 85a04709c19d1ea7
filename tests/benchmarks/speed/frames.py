"""The work of each frame of a live run, one thread: what a camera must leave time for."""

import gc
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from benchmarks.speed.stages import scene

from viscount.devices.cameras.playback import PlaybackCamera
from viscount.motion.prior import geometry_of, motion_prior
from viscount.motion.speed import MotionPrior
from viscount.outlet import Outlet, load_outlet
from viscount.pipeline import PRIMING_FRAMES, Pipeline
from viscount.seams import View
from viscount.session.sweeper import Sweeper
from viscount.simulate.pour import write_pour
from viscount.values import Frame
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

LAG_NS = 100_000_000
TIMES = 6
"""Each frame's work is the least of so many runs: what the machine does beside is not its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Work per frame in ms of this thread's own time, from the first part on."""

    width_px: int
    height_px: int
    in_view: int
    frames: int
    outlet: str
    count: int
    mean_ms: float
    p50_ms: float
    p90_ms: float
    p99_ms: float
    most_ms: float

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values."""
        return asdict(self)


def worked(width: int, height: int, in_view: int, frames: int, folder: Path) -> list[Work]:
    """Draw a stream and feed it frame by frame as a camera does; with its outlet file, and bare."""
    written = write_pour(scene(width, height, in_view, frames), folder)
    outlet = load_outlet(written.outlet)
    with PlaybackCamera(written.clip, threads=1) as camera:
        pictures = list(camera.frames())
    found = []
    for name in ("full", "bare"):
        runs = [_run(pictures, outlet, bare=name == "bare") for _ in range(TIMES)]
        least = 1e3 * np.min([spent for spent, _ in runs], axis=0)[PRIMING_FRAMES:]
        p50, p90, p99 = np.percentile(least, (50, 90, 99)).round(3).tolist()
        found.append(
            Work(
                width_px=width,
                height_px=height,
                in_view=in_view,
                frames=least.size,
                outlet=name,
                count=runs[0][1],
                mean_ms=round(float(least.mean()), 3),
                p50_ms=p50,
                p90_ms=p90,
                p99_ms=p99,
                most_ms=round(float(least.max()), 3),
            )
        )
    return found


def _run(pictures: Sequence[Frame], outlet: Outlet, *, bare: bool) -> tuple[list[float], int]:
    """Return what each frame took, in s, and the count."""
    geometry = geometry_of(outlet, *pictures[0].pixels.shape)
    prior = MotionPrior() if bare else motion_prior(outlet, geometry)
    detector = DifferenceDetector(DifferenceOptions(), View(falls=outlet.falls))
    pipeline = Pipeline(detector, geometry, prior, lag_ns=LAG_NS)
    pipeline.prime(pictures[:PRIMING_FRAMES])
    spent, count = [], 0
    gc.collect()
    with Sweeper() as sweeper:
        for frame in pictures:
            started = time.thread_time()
            passed = pipeline.feed(frame)
            sweeper.frame(waiting=0)
            spent.append(time.thread_time() - started)
            count += sum(one.parts for one in passed)
    return spent, count + sum(one.parts for one in pipeline.finish())
