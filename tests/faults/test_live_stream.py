"""A phone's stream that is killed and comes back, stalls, and sends halves, counted live."""

import numpy as np
import pytest
from streamed_movie import FPS, counted, halved, judge, killed, movie, stalled
from streaming import MjpegServer

from viscount.codes import Code


@pytest.fixture(scope="module")
def shots() -> tuple[list[np.ndarray], np.ndarray]:
    return movie()


def test_killed_and_restarted(shots: tuple[list[np.ndarray], np.ndarray]) -> None:
    pictures, crossings = shots
    with MjpegServer(pictures, rate_hz=FPS) as server:
        tally, shown = counted(server, pictures, killed)
        ((a, b),) = judge(tally, shown, crossings, server)
        before = max(n for n, _ in server.shown if n < b - 20)
        assert abs(a - before) <= 2
    assert Code.CAMERA_LOST in [n.code for n in tally.notes]
    assert Code.FRAMES_LOST in [r.code for r in tally.reasons]


def test_stalled(shots: tuple[list[np.ndarray], np.ndarray]) -> None:
    pictures, crossings = shots
    with MjpegServer(pictures, rate_hz=FPS) as server:
        tally, shown = counted(server, pictures, stalled)
        assert len(judge(tally, shown, crossings, server)) == 1
    told = {n.code for n in tally.notes}
    assert told & {Code.CAMERA_SILENT, Code.CAMERA_LOST}
    assert Code.FRAMES_LOST in [r.code for r in tally.reasons]


def test_half_pictures(shots: tuple[list[np.ndarray], np.ndarray]) -> None:
    pictures, crossings = shots
    with MjpegServer(pictures, rate_hz=FPS) as server:
        tally, shown = counted(server, pictures, halved)
        (long,) = judge(tally, shown, crossings, server)
    assert not server.halved & set(shown.numbers)
    assert (long[0] <= 169, long[1] >= 200) == (True, True)
