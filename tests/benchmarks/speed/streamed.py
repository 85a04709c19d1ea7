"""The tracker alone on streams of any length: sightings made on the fly, nothing kept.

Run as a script it is the child of the speed bench whose memory is looked at; it prints one JSON
object: ``python streamed.py PARTS LAG_MS`` (LAG_MS 0 for a recorded clip).
"""

import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior
from viscount.motion.tracker import Tracker
from viscount.values import Blob, Falls, Sighting

FPS = 60.0
HEIGHT, WIDTH = 160, 80
SPEED_PX_S = 3000.0
PER_S = 55.0
LENGTH, BREADTH = 12, 6
NOISE_PX = 0.05
LEAD_IN_S, TAIL_S = 0.5, 1.5
PROFILE = np.full(LENGTH, BREADTH, dtype=np.uint16)


@dataclass(frozen=True, slots=True, kw_only=True)
class Streamed:
    """What a stream took.

    `early_mb` and `mb` are the greatest resident memory after a tenth of the parts and after
    all; `notices` are the codes that the tracker raised.
    """

    parts: int
    lag_ms: int
    count: int
    frames: int
    ms_per_part: float
    ms_per_frame: float
    early_mb: float
    mb: float
    notices: tuple[str, ...]


def sightings(parts: int, seed: int = 1) -> Iterator[Sighting]:
    """Yield what a good detector would say of parts on a belt, about three in view."""
    rng = np.random.default_rng(seed)
    entered, index = 0, 0
    entries: list[float] = []
    while True:
        t_s = index / FPS
        while entered < parts and LEAD_IN_S + entered / PER_S <= t_s:
            entries.append(LEAD_IN_S + (entered + rng.uniform(0.0, 0.3)) / PER_S)
            entered += 1
        entries = [entry for entry in entries if (t_s - entry) * SPEED_PX_S < HEIGHT + LENGTH]
        places = [(t_s - entry) * SPEED_PX_S - LENGTH / 2 for entry in entries]
        whole = [y for y in places if LENGTH / 2 <= y <= HEIGHT - 1 - LENGTH / 2]
        blobs = tuple(_blob(y + rng.normal(0.0, NOISE_PX)) for y in whole)
        yield Sighting(index=index, t_ns=round(t_s * 1e9), blobs=blobs)
        index += 1
        if entered == parts and t_s > LEAD_IN_S + parts / PER_S + TAIL_S:
            return


def streamed(parts: int, lag_ms: int) -> Streamed:
    """Feed a tracker so many parts; `lag_ms` 0 follows them as a recorded clip."""
    geometry = Geometry(
        falls=Falls.DOWN,
        line_px=HEIGHT / 2,
        view=(0, 0, WIDTH, HEIGHT),
        picture=(HEIGHT, WIDTH),
    )
    prior = MotionPrior(acceleration_px_s2=0.0, speed_px_s=SPEED_PX_S, part_length_px=float(LENGTH))
    tracker = Tracker(geometry, prior, lag_ns=lag_ms * 1_000_000 or None)
    count = frames = 0
    early_mb = 0.0
    started = time.process_time()
    for sighting in sightings(parts):
        count += sum(passage.parts for passage in tracker.feed(sighting))
        frames += 1
        if not early_mb and 10 * count >= parts:
            early_mb = _greatest_mb()
    count += sum(passage.parts for passage in tracker.finish())
    spent = time.process_time() - started
    return Streamed(
        parts=parts,
        lag_ms=lag_ms,
        count=count,
        frames=frames,
        ms_per_part=round(1e3 * spent / parts, 4),
        ms_per_frame=round(1e3 * spent / frames, 4),
        early_mb=round(early_mb or _greatest_mb(), 2),
        mb=round(_greatest_mb(), 2),
        notices=tuple(notice.code.code for notice in tracker.notices),
    )


def _blob(y_px: float) -> Blob:
    x_px = WIDTH / 2
    left, top = round(x_px - BREADTH / 2), round(y_px - LENGTH / 2)
    return Blob(
        x_px=x_px,
        y_px=y_px,
        sigma_x_px=NOISE_PX,
        sigma_y_px=NOISE_PX,
        area_px=float(LENGTH * BREADTH),
        box=(left, top, left + BREADTH, top + LENGTH),
        moments=(BREADTH**2 / 12, 0.0, LENGTH**2 / 12),
        profile=PROFILE,
        cut_by_edge=False,
    )


def _greatest_mb() -> float:
    """Return the greatest memory that this process has held so far.

    On Linux from /proc: what getrusage says there begins with the parent's.
    """
    status = Path("/proc/self/status")
    if status.exists():
        lines = status.read_text(encoding="ascii").splitlines()
        return next(float(one.split()[1]) for one in lines if one.startswith("VmHWM")) / 1024
    import resource

    kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return kib / 1024 if sys.platform != "darwin" else kib / 1024**2


if __name__ == "__main__":
    print(json.dumps(asdict(streamed(int(sys.argv[1]), int(sys.argv[2])))))
