"""A movie of numbered pictures, streamed with faults and counted live.

Each picture carries its number in a strip that is not looked at, so that what became of every
frame is known exactly. All over the loopback, in real time.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from counting import outlet
from live_cameras import engine, stopped_after
from scenes import field_scene
from streaming import MjpegServer

from viscount.clock import SystemClock
from viscount.devices.cameras.stream import StreamCamera, StreamOptions
from viscount.seams import Aim
from viscount.session.plan import LivePlan
from viscount.session.watchdog import Limits
from viscount.tally import Tally

FPS = 120
PARTS = 22
PITCH_MS = 75.0
ACROSS_PX = tuple(3.5 * ((7 * k) % PARTS - 0.5 * (PARTS - 1)) for k in range(PARTS))
"""No part falls where another does: after a hole of any length the first picture looks unlike the
last one before it, and is never taken for that one shown again."""
STRIP = 8
OUTLET = outlet(
    view={"line_px": 80, "scale_px_per_mm": 4.0, "lip_px": -16.0, "region_px": [0, 0, 120, 160]},
    motion={"kind": "belt", "speed_mm_s": 375.0},
)


def numbered(pixels: np.ndarray, number: int) -> np.ndarray:
    """Return the picture with its number below it, a bit for each 8 px."""
    bits = (number >> np.arange(pixels.shape[1] // STRIP)) & 1
    strip = np.repeat(bits * 255, STRIP).astype(np.uint8)
    return np.vstack([pixels, np.broadcast_to(strip, (STRIP, len(strip)))])


def number_in(pixels: np.ndarray) -> int:
    bits = pixels[-STRIP // 2, STRIP // 2 :: STRIP] > 128
    return int((bits << np.arange(len(bits))).sum())


def movie() -> tuple[list[np.ndarray], np.ndarray]:
    """Pictures of 22 parts, and when each crosses the line, in frames."""
    shot = field_scene(
        parts=PARTS, pitch_ms=PITCH_MS, speed_px_s=1500.0, fps=FPS, lanes_px=ACROSS_PX
    )
    pictures = [numbered(frame.pixels, frame.index) for frame in shot.frames]
    return pictures, FPS * 1e-9 * np.array([part.line_t_ns for part in shot.truth.parts])


@dataclass
class Shown:
    """What was counted: the number of each picture, the time it was given, and when it came.

    The last is the monotonic clock's, as the camera took it.
    """

    numbers: list[int] = field(default_factory=list)
    times_ns: list[int] = field(default_factory=list)
    arrived_ns: list[int] = field(default_factory=list)

    def show(self, pixels: np.ndarray, *, index: int, t_ns: int, age_ns: int) -> None:
        self.numbers.append(number_in(pixels))
        self.times_ns.append(t_ns)
        self.arrived_ns.append(time.monotonic_ns() - age_ns)


def counted(
    server: MjpegServer,
    pictures: list[np.ndarray],
    faults: Callable[[MjpegServer, threading.Semaphore], None],
) -> tuple[Tally, Shown]:
    """Count the movie while faults befall it; they can wait for the openings of the stream."""
    aim = Aim(address=server.url)
    shown = Shown()
    openings = threading.Semaphore(0)

    def opened() -> StreamCamera:
        openings.release()
        return StreamCamera(StreamOptions(silent_s=0.3, open_s=2.0), aim)

    one = engine(
        opened,
        LivePlan(source=server.url, outlet=OUTLET),
        limits=Limits(silent_s=0.25),
        clock=SystemClock(),
        show=shown,
    )
    trouble = threading.Thread(target=faults, args=(server, openings))
    trouble.start()
    ended = stopped_after(one, lambda: bool(server.shown) and server.shown[-1][0] >= len(pictures))
    trouble.join()
    return ended.tally, shown


def holes(numbers: list[int]) -> list[tuple[int, int]]:
    """Return the stretches of the movie that were not counted: last number before, first after."""
    return [(a, b) for a, b in pairwise(numbers) if b > a + 1]


def touching(missed: list[tuple[int, int]], a: int, b: int) -> tuple[int, int]:
    """Return a stretch with those that touch it: where single pictures were left out beside it."""
    while (more := next((x for x, y in missed if y == a), None)) is not None:
        a = more
    while (more := next((y for x, y in missed if x == b), None)) is not None:
        b = more
    return a, b


class NothingToJudgeError(Exception):
    """The stream came back too late: the movie was over by then."""


def judge(
    tally: Tally, shown: Shown, crossings: np.ndarray, server: MjpegServer
) -> list[tuple[int, int]]:
    """Assert that all is right outside of the blind time, and the blind time itself; return it."""
    end = int(crossings[-1]) + 20
    at = dict(zip(shown.numbers, shown.times_ns, strict=True))
    if any(a <= end and not a < b <= max(end, a + 1) for a, b in pairwise(shown.numbers)):
        raise NothingToJudgeError
    seen = np.array(shown.numbers)
    times = np.array(shown.times_ns)
    missed = holes([n for n in shown.numbers if n <= end])
    long = [(a, b) for a, b in missed if b - a > 12]
    # Each long hole is blind from the last frame before it to the first after it.
    frame_s = 1.0 / FPS
    for a, b in long:
        start, stop = at[a] * 1e-9, at[b] * 1e-9
        assert any(x <= start + 1e-6 and y >= stop - 1e-6 for x, y in tally.frames.blind), (
            f"{start} to {stop} in {tally.frames.blind}"
        )
    for one in blind_stretches(tally, shown, server, end):
        # By the pictures' own times it lasted as long, to a frame, and to what the last or the
        # first of them came late by.
        assert one.added < 1.0, one
    # No more is blind than was not counted, to a frame.
    left_out_s = sum(at[b] - at[a] for a, b in missed) * 1e-9
    # A computer that is busy otherwise holds pictures up, and cannot know why they are late.
    steps = np.diff(times)[np.diff(seen) == 1] * 1e-9
    left_out_s += steps[steps > 5 * frame_s].sum()
    assert tally.frames.blind_s < left_out_s + 2 * frame_s * (1 + len(missed))
    # Every part that crossed the line away from the holes was counted, once, when it did.
    passages = np.array([p.passage.t_ns for p in tally.passages if p.passage.parts])
    counted_at = np.interp(passages, times, seen)
    margin = 16
    for crossing in crossings:
        near = any(a - margin < crossing < b + margin for a, b in long)
        inside = seen[0] + margin < crossing < min(seen[-1], end) - margin
        if near or not inside:
            continue
        off = np.abs(counted_at - crossing)
        assert (off < 2.0).sum() == 1, f"part at frame {crossing:.1f}: {np.sort(off)[:3]}"
    return long


def killed(server: MjpegServer, openings: threading.Semaphore) -> None:
    """Kill the server, and start it again once an opening has failed."""
    server.await_shown(110)
    server.kill()
    # At the third one the second has failed.
    assert all(openings.acquire(timeout=10) for _ in range(3))
    server.start()


def stalled(server: MjpegServer, openings: threading.Semaphore) -> None:
    """Send nothing until the camera has been opened again."""
    server.await_shown(110)
    server.stall()
    assert all(openings.acquire(timeout=10) for _ in range(2))
    server.go_on()


def halved(server: MjpegServer, openings: threading.Semaphore) -> None:
    """Send halves: three in a row, a single one, and thirty in a row."""
    server.halved = {*range(90, 93), 130, *range(170, 200)}


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindStretch:
    """By how many frames a long blind stretch is off, and why.

    Attributes
    ----------
    ends_off : at either end, from the last picture counted before it and the first one after.
    length_off : in length, from the own times of these two pictures, which their numbers tell: a
        busy computer makes nothing of it late.
    server_late, reader_late : how late the later of the two was handed to the network, and then
        taken from it: server and reader are threads of one process here.
    late : how late the later one came in all; nobody could know.
    """

    ends_off: float
    length_off: float
    server_late: float
    reader_late: float
    late: float

    @property
    def added(self) -> float:
        """What the length is off beyond that."""
        return max(self.length_off - self.late, 0.0)


def blind_stretches(
    tally: Tally, shown: Shown, server: MjpegServer, last: int
) -> list[BlindStretch]:
    """Return what is to be told of each long blind stretch up to a picture."""
    at = dict(zip(shown.numbers, shown.times_ns, strict=True))
    arrived = dict(zip(shown.numbers, shown.arrived_ns, strict=True))
    found = []
    missed = holes([n for n in shown.numbers if n <= last])
    for a, b in [touching(missed, *one) for one in missed if one[1] - one[0] > 12]:
        start, stop = at[a] * 1e-9, at[b] * 1e-9
        x, y = min(tally.frames.blind, key=lambda one: abs(one[0] - start))
        frames = FPS * 1e-9
        found.append(
            BlindStretch(
                ends_off=FPS * max(abs(x - start), abs(y - stop)),
                length_off=abs(FPS * (y - x) - (b - a)),
                server_late=frames * max(server.left_ns[n] - server.due_ns(n) for n in (a, b)),
                reader_late=frames * max(arrived[n] - server.left_ns[n] for n in (a, b)),
                late=frames * max(arrived[n] - server.due_ns(n) for n in (a, b)),
            )
        )
    return found
