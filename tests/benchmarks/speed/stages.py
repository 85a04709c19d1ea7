"""Time per frame of each stage, on clips drawn for the purpose: decode, detect, track."""

import json
import time
from dataclasses import asdict, dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from viscount.devices.cameras.playback import PlaybackCamera
from viscount.motion.prior import geometry_of, motion_prior
from viscount.motion.tracker import Tracker
from viscount.outlet import load_outlet
from viscount.pipeline import PRIMING_FRAMES
from viscount.seams import View
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import Belt, Box, Camera, Escapement, Lanes, Scene
from viscount.simulate.scene import View as Picture
from viscount.values import Frame, Sighting
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

FPS = 120.0
SCALE = 4.0
PART_MM = (3.0, 2.0)
LANE_PX = 30.0
PER_LANE = 5
"""Parts in view in one lane, at most: further ones fall beside them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """One clip; this process's own time, ms per frame, start-up left out of decode and detect.

    `count` is what the tracker counts of the `true` parts.
    """

    width_px: int
    height_px: int
    in_view: int
    frames: int
    true: int
    count: int
    decode_ms: float
    detect_ms: float
    track_ms: float

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values, with its ratios to decoding."""
        ratios = {
            "detect_per_decode": round(self.detect_ms / self.decode_ms, 3),
            "track_per_decode": round(self.track_ms / self.decode_ms, 3),
        }
        return asdict(self) | ratios


def scene(width: int, height: int, in_view: int, frames: int) -> Scene:
    """Return a belt that keeps so many parts in view; they cross it in 14 frames."""
    lanes = -(-in_view // PER_LANE)
    along_px = PART_MM[0] * SCALE
    speed_px_s = (height + along_px) * FPS / 14
    interval_ms = 1e3 * (height + along_px) / speed_px_s / in_view
    middle = (lanes - 1) / 2
    return Scene(
        name="speed",
        seed=1,
        parts=(Box(along_mm=PART_MM[0], across_mm=PART_MM[1]),),
        release=Escapement(
            count=max(int(1e3 * frames / FPS / interval_ms) - in_view, 1),
            interval_ms=interval_ms,
            jitter_ms=0.1 * interval_ms * lanes,
        ),
        motion=Belt(speed_mm_s=speed_px_s / SCALE),
        lanes=Lanes(positions_mm=tuple((k - middle) * LANE_PX / SCALE for k in range(lanes))),
        view=Picture(
            width_px=width,
            height_px=height,
            scale_px_per_mm=SCALE,
            lip_px=-along_px / 2,
            line_px=height / 2,
        ),
        camera=Camera(fps=FPS, exposure_us=100.0, blur_px=0.6),
        lead_in_s=PRIMING_FRAMES / FPS,
        tail_s=0.3,
    )


def timed(width: int, height: int, in_view: int, frames: int, folder: Path) -> Stages:
    """Draw a clip and time each stage of counting it, one thread each."""
    written = write_pour(scene(width, height, in_view, frames), folder)
    outlet = load_outlet(written.outlet)
    geometry = geometry_of(outlet, height, width)
    detector = DifferenceDetector(DifferenceOptions(), View(falls=outlet.falls))
    decode_s = detect_s = 0.0
    seen: list[Sighting] = []
    with PlaybackCamera(written.clip, threads=1) as camera:
        pictures = camera.frames()
        opening: list[Frame] = list(islice(pictures, PRIMING_FRAMES))
        detector.prime(opening)
        seen += [detector.see(frame) for frame in opening]
        while True:
            started = time.process_time()
            frame = next(pictures, None)
            decoded = time.process_time()
            if frame is None:
                break
            seen.append(detector.see(frame))
            decode_s += decoded - started
            detect_s += time.process_time() - decoded
    tracker = Tracker(geometry, motion_prior(outlet, geometry))
    started = time.process_time()
    found = [p for sighting in seen for p in tracker.feed(sighting)] + tracker.finish()
    track_s = time.process_time() - started
    timed_frames = len(seen) - PRIMING_FRAMES
    return Stages(
        width_px=width,
        height_px=height,
        in_view=in_view,
        frames=timed_frames,
        true=_true(written.truth),
        count=sum(p.parts for p in found),
        decode_ms=round(1e3 * decode_s / timed_frames, 4),
        detect_ms=round(1e3 * detect_s / timed_frames, 4),
        track_ms=round(1e3 * track_s / timed_frames, 4),
    )


def _true(truth: Path) -> int:
    parts = json.loads(truth.read_text(encoding="utf-8"))["parts"]
    return sum(part["line_t_ns"] is not None for part in parts)
