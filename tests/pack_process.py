"""``viscount pack`` as a process, its gate open on a simulated board, and what may become of it."""

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from commands import started
from pty_boards import PtyBoard

from viscount.clips.writer import ClipWriter
from viscount.testing.board import BoardSettings

BOARD = BoardSettings(on_ms=20_000, duty_percent=100)
OUTLET = """
view: {line_px: 40, scale_px_per_mm: 1.0, lip_px: 0.0, falls: down}
gate: {below_lip_mm: 20.0}
part: {name: plate}
"""


def empty_clip(path: Path) -> Path:
    """Write twenty seconds of nothing, seen by a fast camera."""
    rng = np.random.default_rng(2)
    pictures = np.clip(rng.normal(180.0, 2.0, (8, 48, 32)), 0, 255).astype(np.uint8)
    with ClipWriter(path, width=32, height=48) as writer:
        for k in range(20 * 200):
            writer.write(pictures[k % 8], round(k * 1e9 / 200))
    return path


def words_for(clip: Path, folder: Path, board: PtyBoard) -> list[object]:
    """Write the outlet file; return the call that packs one bag of nine."""
    (folder / "outlet.yaml").write_text(OUTLET, encoding="utf-8")
    words: list[object] = ["pack", clip, "--outlet", folder / "outlet.yaml", "--each", 9]
    return [*words, "--bags", 1, "--beam-port", board.name, "--journal", folder / "bags.jsonl"]


@contextmanager
def packing(
    clip: Path, folder: Path, board: PtyBoard, *, opens: bool = True
) -> "Iterator[subprocess.Popen[str]]":
    """The program, with its gate open for a bag that never fills; or just before that."""
    words = [*words_for(clip, folder, board), "--empty-ms", 15000]
    process = started(*words, stdin=subprocess.PIPE, start_new_session=True)
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        while "put an empty bag in place" not in (line := process.stdout.readline()):
            assert line, process.communicate()
        assert not board.board.coil_log
        if opens:
            process.stdin.write("\n")
            process.stdin.flush()
            board.await_that(lambda: bool(board.board.coil_log))
        yield process
    finally:
        # SIGSTOP holds up every other signal but this one.
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate(timeout=20)


def engine_of(process: "subprocess.Popen[str]") -> int:
    """The engine's process: the child that has the most threads."""
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text(encoding="ascii")
    return max(
        (int(pid) for pid in children.split()),
        key=lambda pid: len(list(Path(f"/proc/{pid}/task").iterdir())),
    )


def kill_engine(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.kill(engine_of(process), signal.SIGKILL)


def kill_command(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.kill(process.pid, signal.SIGKILL)


def kill_all(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.killpg(process.pid, signal.SIGKILL)


def freeze(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.killpg(process.pid, signal.SIGSTOP)


def interrupt(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.kill(process.pid, signal.SIGINT)


def terminate(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    os.kill(process.pid, signal.SIGTERM)


def hang_up(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    """Nobody can type any more."""
    assert process.stdin is not None
    process.stdin.close()
    process.stdin = None


def unplug(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    board.unplug()


def reset(process: "subprocess.Popen[str]", board: PtyBoard) -> None:
    with board.lock:
        board.board.reset(time.monotonic_ns() + 1_000_000)


Fault = Callable[["subprocess.Popen[str]", PtyBoard], None]
FAULTS: tuple[Fault, ...] = (
    kill_engine,
    kill_command,
    kill_all,
    freeze,
    interrupt,
    terminate,
    hang_up,
    unplug,
    reset,
)


def off_after_ms(fault: Fault, process: "subprocess.Popen[str]", board: PtyBoard) -> float:
    """Do it; return how long the coil was on after that. It must stay off."""
    at_ns = time.monotonic_ns()
    fault(process, board)
    board.await_that(lambda: not board.board.coil_log[-1].on)
    took_ms = (board.board.coil_log[-1].t_ns - at_ns) / 1e6
    board.await_time(time.monotonic_ns() + 300_000_000)
    assert [one.on for one in board.board.coil_log] == [True, False]
    return took_ms
