"""How fast the detectors are against OpenCV's MOG2 alone, measured side by side in one run.

    python tests/benchmarks/bench_detector.py [--json] [--rounds 25]

VGA grey, noise sigma 2, six parts in view, one thread. Everything a detector does for a frame is
inside the clock: light, learning, regions, centres with their sigma. Start-up is not. Each round
runs all subjects one after another; the table gives the median round, and the ratio is the median
of the rounds' own ratios, so that a busy machine troubles all alike.
"""

import argparse
import json
import time
from collections.abc import Callable

import cv2
import numpy as np

from viscount.seams import View
from viscount.values import Frame
from viscount.vision.difference import DifferenceDetector, DifferenceOptions
from viscount.vision.mixture import MixtureDetector, MixtureOptions

HEIGHT, WIDTH = 480, 640
PARTS, PART_WIDTH, PART_LENGTH = 6, 16, 32
LEAD_IN, FRAMES = 64, 50

Step = Callable[[Frame], None]


def scene(count: int, *, parts: int, seed: int) -> list[Frame]:
    """Return frames with `parts` dark parts falling at 11.3 px per frame."""
    rng = np.random.default_rng(seed)
    frames = []
    for index in range(count):
        grey = 100 + rng.normal(0, 2, (HEIGHT, WIDTH)).astype(np.float32)
        for part in range(parts):
            top = (part * 80 + index * 11.3) % (HEIGHT - PART_LENGTH)
            rows = np.arange(HEIGHT)
            inside = np.minimum(top + PART_LENGTH, rows + 0.5) - np.maximum(top, rows - 0.5)
            left = 60 + 90 * part
            grey[:, left : left + PART_WIDTH] -= 60 * np.clip(inside, 0, 1)[:, None]
        pixels = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
        frames.append(Frame(index=index, t_ns=index * 8_333_333, pixels=pixels))
    return frames


def detector_step(detector: DifferenceDetector | MixtureDetector, lead_in: list[Frame]) -> Step:
    detector.prime(lead_in)

    def step(frame: Frame) -> None:
        found = len(detector.see(frame).blobs)
        if found != PARTS:
            raise SystemExit(f"frame {frame.index}: {found} blobs for {PARTS} parts")

    return step


def mog2_step(lead_in: list[Frame]) -> Step:
    subtractor = cv2.createBackgroundSubtractorMOG2()
    for frame in lead_in:
        subtractor.apply(frame.pixels)
    return lambda frame: subtractor.apply(frame.pixels)


def timed_us(step: Step, frames: list[Frame]) -> float:
    """Return the mean time per frame, in microseconds of this process's own time.

    Each frame is written just before it is seen, as a decoder does.
    """
    picture = np.empty((HEIGHT, WIDTH), np.uint8)
    spent = 0
    for frame in frames:
        np.copyto(picture, frame.pixels)
        fresh = Frame(index=frame.index, t_ns=frame.t_ns, pixels=picture)
        start = time.process_time_ns()
        step(fresh)
        spent += time.process_time_ns() - start
    return spent / len(frames) / 1000


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--rounds", type=int, default=25, help="times that 50 frames are seen")
    args = parser.parse_args()

    cv2.setNumThreads(1)
    lead_in = scene(LEAD_IN, parts=0, seed=1)
    frames = scene(FRAMES, parts=PARTS, seed=2)
    steps = {
        "difference": detector_step(DifferenceDetector(DifferenceOptions(), View()), lead_in),
        "mixture": detector_step(MixtureDetector(MixtureOptions(), View()), lead_in),
        "MOG2 alone": mog2_step(lead_in),
    }
    for step in steps.values():
        timed_us(step, frames)
    rounds = [
        {name: timed_us(step, frames) for name, step in steps.items()} for _ in range(args.rounds)
    ]

    result = {
        "opencv": cv2.__version__,
        "picture": [WIDTH, HEIGHT],
        "parts": PARTS,
        "frames": FRAMES,
        "rounds": args.rounds,
        "us_per_frame": {
            name: round(float(np.median([each[name] for each in rounds])), 1) for name in steps
        },
        "times_as_fast_as_mog2": {
            name: round(float(np.median([each["MOG2 alone"] / each[name] for each in rounds])), 2)
            for name in steps
        },
    }
    if args.json:
        print(json.dumps(result))
        return
    print(f"OpenCV {cv2.__version__}, {WIDTH} x {HEIGHT} grey, {PARTS} parts, one thread")
    print(f"{'':14}{'us per frame':>14}{'times as fast as MOG2':>24}")
    for name in steps:
        us, ratio = result["us_per_frame"][name], result["times_as_fast_as_mog2"][name]
        print(f"{name:14}{us:14.1f}{ratio:24.2f}")


if __name__ == "__main__":
    main()
