"""Whatever becomes of the host, the coil is off within the lease: by the board's own coil log.

One of the faults that `tests/benchmarks/bench_pack_faults.py` goes through.
"""

import subprocess
import time
from pathlib import Path

import pytest
from commands import called
from pack_process import (
    BOARD,
    empty_clip,
    engine_of,
    kill_all,
    off_after_ms,
    packing,
    words_for,
)
from pty_boards import PtyBoard

from viscount.devices.protocol.messages import LEASE_MS
from viscount.testing.board import BoardSettings


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return empty_clip(tmp_path_factory.mktemp("empty") / "empty.mp4")


def test_a_killed_host_leaves_the_coil_on_for_no_longer_than_the_lease(
    clip: Path, tmp_path: Path
) -> None:
    with PtyBoard(BOARD) as board, packing(clip, tmp_path, board) as process:
        assert off_after_ms(kill_all, process, board) <= LEASE_MS + 5


def test_a_second_run_on_a_journal_is_refused_and_opens_nothing(clip: Path, tmp_path: Path) -> None:
    with PtyBoard(BOARD) as board, PtyBoard(BOARD) as other:
        with packing(clip, tmp_path, board, opens=False) as process:
            answer = called(*words_for(clip, tmp_path, other), stdin=subprocess.DEVNULL)
            assert answer.status == 2, answer.err
            assert f"in use by process {engine_of(process)} on " in answer.err
            assert other.board.coil_log == ()
        # Killed by `packing`: its lock went with it.
        with packing(clip, tmp_path, board, opens=False):
            pass


def test_opening_the_port_moves_nothing_and_a_dry_run_opens_none(
    clip: Path, tmp_path: Path
) -> None:
    with PtyBoard(BoardSettings(resets_on_open=True)) as board:
        answer = called(*words_for(clip, tmp_path, board), "--dry-run", stdin=subprocess.DEVNULL)
        assert answer.status == 0, answer.err
        assert "dry run: no port was opened, nothing moved" in answer.out
        assert not (tmp_path / "bags.jsonl").exists()
        with packing(clip, tmp_path, board, opens=False):
            board.await_time(time.monotonic_ns() + 300_000_000)
        assert board.board.coil_log == ()
        assert board.board.blade_log == ()
