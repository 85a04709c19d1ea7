"""The live engine under load: what it counts, how long it takes, and what it leaves behind.

Run it as ``python tests/benchmarks/bench_live.py [--json] [--seconds N] [PART...]``. Parts:

- ``count``: a pour rendered beforehand, 240 frames a second of 160 x 480 px, replayed by the
  engine with no observer, with one that looks as a window would, and with one that is blocked for
  5 s. The count must be the same; work and age are told for each frame, and how memory grows.
- ``work``: counting alone, in one thread, in processor time: what a busy machine does not change.
- ``edges``: 250 edges a second over a pseudo-terminal, the reader stalled for 500 ms now and then.
- ``stream``: motion JPEG over the loopback, the server killed and started again, stalled, sending
  halves: what is wrong away from the blind time; by how many frames that is off, by the own
  times of the pictures; and how late the server itself sent them and the reader took them.
- ``window``: as ``count``, with the monitor's window shut, open, and blocked for 5 s. Needs the
  extra ``monitor``, and is done only where it is asked for; without a screen set
  ``QT_QPA_PLATFORM=offscreen``.
- ``redraw``: six simulated hours of events through the window: how long a redraw takes, and how
  memory grows. As ``window``.
- ``starts``: twenty clean starts and stops; processes, threads, files and shared memory left over.
"""

import argparse
import json
import os
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Sequence
from multiprocessing import active_children
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from live_observers import (
    PLACE,
    blocked_for_a_while,
    looking,
    window_blocked_for_a_while,
    window_open,
)
from pty_boards import PtyBoard, PtyPort, PtyPorts
from streamed_movie import FPS as STREAM_FPS
from streamed_movie import (
    BlindStretch,
    NothingToJudgeError,
    blind_stretches,
    counted,
    halved,
    judge,
    killed,
    movie,
    stalled,
)
from streaming import MjpegServer

from viscount.clips.writer import ClipWriter
from viscount.clock import SystemClock
from viscount.hooks.loading import load_plugins
from viscount.offline import count
from viscount.outlet import Outlet
from viscount.run import CameraRun
from viscount.session.beam_line import BeamLine
from viscount.session.live_run import LiveRun
from viscount.session.messages import Snapshot
from viscount.session.observer import ObserverMain
from viscount.session.plan import LivePlan
from viscount.simulate.pour import simulate
from viscount.simulate.scene import Camera, Column, FreeFall, Lanes, Scene, Screw, View
from viscount.values import Frame

FPS = 240.0
SCREW = Screw(
    name="M3x8",
    overall_length_mm=11.0,
    head_diameter_mm=5.5,
    head_height_mm=3.0,
    shank_diameter_mm=3.0,
)
OUTLET = {
    "view": {"falls": "down", "scale_px_per_mm": 4.0, "lip_px": -120.0, "line_px": 300.0},
    "motion": {"kind": "free_fall"},
    "camera": {"readout": "global"},
    "part": {"name": "M3x8", "along_fall_mm": 11.0},
}


def scene(seed: int) -> Scene:
    """One bag of 24 screws from a column, with a second of nothing behind it."""
    return Scene(
        name="bench live",
        seed=seed,
        parts=(SCREW,),
        release=Column(count=24, pitch_mm=11.0, acceleration_mm_s2=2500.0, jitter_ms=0.1),
        motion=FreeFall(),
        lanes=Lanes(spread_mm=0.5),
        view=View(width_px=160, height_px=480, scale_px_per_mm=4.0, lip_px=-120.0, line_px=300.0),
        camera=Camera(fps=FPS, noise=2.0, background_grey=190.0, part_grey=40.0, blur_px=0.6),
        lead_in_s=0.5,
        tail_s=1.1,
    )


def rendered(path: Path, seconds: float) -> int:
    """Write pours one after the other, so many seconds; return how many parts there are."""
    parts, written, step_ns = 0, 0, round(1e9 / FPS)
    with ClipWriter(path, 160, 480) as writer:
        seed = 0
        while written < seconds * FPS:
            seed += 1
            pour = simulate(scene(seed))
            for _, pixels in pour.frames():
                writer.write(pixels, written * step_ns)
                written += 1
            parts += pour.truth.crossed
    return parts


def resident_mib(pid: int) -> float:
    """Return how much memory a process holds."""
    text = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1]) / 1024


def one_run(clip: Path, observers: Sequence[ObserverMain]) -> dict[str, Any]:
    """Count a clip live; return what it came to."""
    outlet = Outlet.model_validate(OUTLET)
    memory: list[float] = []
    plan = LivePlan(source=str(clip), outlet=outlet)
    began = time.monotonic()
    with LiveRun(plan, observers) as run:
        while not run.ended():
            snapshots = [one for one in run.values(1.0) if isinstance(one, Snapshot)]
            if snapshots and snapshots[-1].t_s > 3.0 and run.engine_pid is not None:
                memory.append(resident_mib(run.engine_pid))
        ended = run.result()
    timing = ended.timing
    third = max(len(memory) // 3, 1)
    return {
        "count": ended.tally.count,
        "status": ended.tally.status.value,
        "reasons": [reason.text for reason in ended.tally.reasons],
        "frames": ended.tally.frames.read,
        "blind_s": round(ended.tally.frames.blind_s, 3),
        "work_p50_ms": ms(timing.work_p50_s),
        "work_p99_ms": ms(timing.work_p99_s),
        "work_most_ms": ms(timing.work_most_s),
        "age_p50_ms": ms(timing.age_p50_s),
        "age_p99_ms": ms(timing.age_p99_s),
        "age_most_ms": ms(timing.age_most_s),
        "memory_first_mib": round(sum(memory[:third]) / third, 1) if memory else None,
        "memory_last_mib": round(sum(memory[-third:]) / third, 1) if memory else None,
        "took_s": round(time.monotonic() - began, 1),
        "load": os.getloadavg()[0],
    }


def ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(1e3 * seconds, 2)


def part_count(seconds: float) -> dict[str, Any]:
    """Count the same clip with observers of all kinds."""
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "pour.mp4"
        truth = rendered(clip, seconds)
        os.environ[PLACE] = str(Path(folder) / "seen.txt")
        offline = count(clip, outlet=Outlet.model_validate(OUTLET))
        kinds: dict[str, Sequence[ObserverMain]] = {
            "absent": [],
            "looking": [looking],
            "blocked for 5 s": [blocked_for_a_while],
        }
        found = {
            "true": truth,
            "offline": {"count": offline.count, "status": offline.status.value},
        }
        for name, observers in kinds.items():
            found[name] = one_run(clip, observers)
            if observers:
                found[name]["observer_saw"] = Path(os.environ[PLACE]).read_text(encoding="utf-8")
        return found


def part_window(seconds: float) -> dict[str, Any]:
    """Count the same clip with the window shut, open and blocked, by turns."""
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "pour.mp4"
        found: dict[str, Any] = {"true": rendered(clip, seconds)}
        kinds: dict[str, Sequence[ObserverMain]] = {
            "shut": [],
            "open": [window_open],
            "blocked for 5 s": [window_blocked_for_a_while],
        }
        for turn in (1, 2):
            for name, observers in kinds.items():
                found[f"{name}, {turn}"] = one_run(clip, observers)
        return found


def part_redraw(seconds: float) -> dict[str, Any]:
    """Six hours of parts, ten a second, through model and window; processor time of a redraw."""
    from PySide6.QtWidgets import QApplication
    from watched import began, passage, passed, pulse, pulsed, snapshot, taken

    from viscount.monitor.model.facts import Facts
    from viscount.monitor.model.monitor import Monitor, Picture
    from viscount.monitor.theme import DARK
    from viscount.monitor.window.monitor_window import MonitorWindow

    application = QApplication.instance() or QApplication([])
    model = Monitor(Facts(title="six hours", needed_ms=12.0))
    window = MonitorWindow(model, DARK)
    window._timer.stop()
    window.show()
    model.take(began(beam_px=120.0))
    blank, hours, number = taken(0, []).pixels, 6, 0
    took: list[float] = []
    memory: list[float] = []
    for second in range(hours * 3600):
        for k in range(10):
            number += 1
            at_s = second + 0.1 * k
            unsure = 0.3 if number % 300 == 0 else 1e-5
            model.take(passed(passage(number, at_s, doubt=unsure)))
            model.take(pulsed(pulse(number, at_s)))
        model.saw([Picture(index=second, t_s=second + 0.99, pixels=blank)])
        model.take(snapshot(second + 1.0, number, number))
        if second % 10 == 0:
            begun = time.process_time()
            window.draw()
            application.processEvents()
            took.append(1e3 * (time.process_time() - begun))
        if second % 1800 == 1799:
            memory.append(round(resident_mib(os.getpid()), 1))
    window.close()
    return {
        "parts": number,
        "redraws": len(took),
        "redraw_p50_ms": round(float(np.percentile(took, 50)), 1),
        "redraw_p99_ms": round(float(np.percentile(took, 99)), 1),
        "model_mib": round(model.nbytes / 2**20, 1),
        "memory_mib": memory,
        "load": os.getloadavg()[0],
    }


def part_work(seconds: float) -> dict[str, Any]:
    """Count the same frames in this thread alone; processor time, which no other load adds to."""
    outlet = Outlet.model_validate(OUTLET)
    run = CameraRun(outlet, None, 1.0, load_plugins([]), lag_ns=100_000_000)
    frames, parts, step_ns = [], 0, round(1e9 / FPS)
    for seed in range(1, 1 + max(round(min(seconds, 20.0) / 2), 1)):
        pour = simulate(scene(seed))
        parts += pour.truth.crossed
        for _, pixels in pour.frames():
            pixels.flags.writeable = False
            frames.append(Frame(index=len(frames), t_ns=len(frames) * step_ns, pixels=pixels))
    run.begin(frames[:100])
    spent, wall = [], []
    for frame in frames:
        begun, begun_wall = time.thread_time_ns(), time.monotonic_ns()
        run.feed(frame)
        spent.append(1e-6 * (time.thread_time_ns() - begun))
        wall.append(1e-6 * (time.monotonic_ns() - begun_wall))
    run.finish()
    found = {"frames": len(frames), "true": parts, "count": sum(p.parts for p in run.passages)}
    for name, values in (("cpu", spent), ("wall", wall)):
        for share in (50, 99, 99.9):
            found[f"{name}_p{share:g}_ms"] = round(float(np.percentile(values, share)), 3)
        found[f"{name}_most_ms"] = round(max(values), 2)
    return found | {"interval_ms": 1e3 / FPS, "load": os.getloadavg()[0]}


class Stalling(PtyPort):
    """A port whose reader sleeps for half a second, every five seconds."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self._next_s = time.monotonic() + 5.0

    def read(self, wait_s: float) -> bytes:
        if time.monotonic() > self._next_s:
            self._next_s = time.monotonic() + 5.0
            threading.Event().wait(0.5)
        return super().read(wait_s)


class StallingPorts(PtyPorts):
    """Opens such a port."""

    def connect(self) -> PtyPort:
        return Stalling(self._board.name)


def part_edges(seconds: float) -> dict[str, Any]:
    """Read 250 edges a second from a simulated board."""
    pulses = round(125 * seconds)
    came: list[Any] = []
    with PtyBoard() as board:
        line = BeamLine(StallingPorts(board), SystemClock(), came.extend, min_pulse_ns=100_000)
        line.start()
        line.await_total(5.0)
        board.parts(pulses, every_ms=8.0, dark_ms=3.0)
        board_end = time.monotonic() + pulses * 0.008
        while time.monotonic() < board_end or line.now.edges + line.now.lost < 2 * pulses:
            line.await_total(1.0)
            if time.monotonic() > board_end + 20:
                break
        line.stop()
        now = line.now
    return {
        "edges": 2 * pulses,
        "came": now.edges,
        "stated_lost": now.lost,
        "pulses_by_total": now.pulses,
        "exact": now.edges + now.lost == 2 * pulses and len(came) - 1 == now.edges,
        "load": os.getloadavg()[0],
    }


def part_stream(seconds: float) -> dict[str, Any]:
    """Count a stream with each kind of fault, again and again."""
    pictures, crossings = movie()
    found: dict[str, Any] = {}
    for fault in (killed, stalled, halved):
        blind: list[BlindStretch] = []
        wrong: list[str] = []
        too_late = 0
        times = max(round(seconds / 12), 1)
        for _ in range(times):
            with MjpegServer(pictures, rate_hz=STREAM_FPS) as server:
                try:
                    tally, shown = counted(server, pictures, fault)
                    judge(tally, shown, crossings, server)
                except NothingToJudgeError:
                    too_late += 1
                    continue
                except Exception as error:
                    # One run that breaks hides nothing of the others.
                    where = traceback.extract_tb(error.__traceback__)[-1]
                    wrong.append(f"{type(error).__name__} at {where.line}: {error}".split("\n")[0])
                    continue
                blind += blind_stretches(tally, shown, server, int(crossings[-1]) + 20)
        found[fault.__name__] = {
            "runs": times,
            "came_back_too_late": too_late,
            "wrong": wrong,
            "blind_stretches": len(blind),
        } | {
            f"{name}_frames_at_most": round(max((getattr(b, name) for b in blind), default=0.0), 2)
            for name in ("ends_off", "length_off", "server_late", "reader_late", "added")
        }
    return found | {"load": os.getloadavg()[0]}


def left_over(boards: Sequence[str]) -> dict[str, Any]:
    """Return what there is of a process, and which of these picture boards are still there."""
    return {
        "threads": threading.active_count(),
        "handles": len(list(Path("/proc/self/fd").iterdir())),
        "children": len(active_children()),
        "shared_memory": [name for name in boards if Path("/dev/shm", name).exists()],
    }


def part_starts(seconds: float) -> dict[str, Any]:
    """Start and stop a run twenty times."""
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "pour.mp4"
        rendered(clip, 2.0)
        os.environ[PLACE] = str(Path(folder) / "seen.txt")
        plan = LivePlan(source=str(clip), outlet=Outlet.model_validate(OUTLET))

        boards: list[str] = []

        def once() -> str:
            with LiveRun(plan, [looking]) as run:
                boards.append(run._board.name.lstrip("/"))
                while not any(isinstance(one, Snapshot) and one.frames for one in run.values(0.1)):
                    pass
                run.stop()
                return run.result(30.0).tally.status.value

        once()
        before = left_over(boards)
        statuses = [once() for _ in range(20)]
        after = left_over(boards)
    clean = before == after and not after["shared_memory"] and len(set(boards)) == 21
    return {"runs": len(statuses), "clean": clean, "before": before, "after": after}


PARTS: dict[str, Callable[[float], dict[str, Any]]] = {
    "count": part_count,
    "work": part_work,
    "edges": part_edges,
    "stream": part_stream,
    "window": part_window,
    "redraw": part_redraw,
    "starts": part_starts,
}


ASKED_ONLY = ("window", "redraw")


def main() -> None:
    """Run the parts that were asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    asked.add_argument("--json", action="store_true")
    asked.add_argument("--seconds", type=float, default=60.0)
    given = asked.parse_args()
    wanted = [name for name in PARTS if name not in ASKED_ONLY]
    found = {name: PARTS[name](given.seconds) for name in given.parts or wanted}
    print(json.dumps(found) if given.json else json.dumps(found, indent=2))


if __name__ == "__main__":
    main()
