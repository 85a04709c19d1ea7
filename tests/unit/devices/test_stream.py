"""A network stream that stalls, breaks off, or sends halves; over the loopback."""

from itertools import islice

import numpy as np
import pytest
from streaming import MjpegServer

from viscount.devices.cameras.stream import StreamCamera, StreamOptions
from viscount.errors import SourceError
from viscount.seams import Aim


def pictures(count: int = 20) -> list[np.ndarray]:
    return [np.full((48, 32), 60 + k, np.uint8) for k in range(count)]


def rough() -> list[np.ndarray]:
    """Pictures of which half a file shows something."""
    return list(np.random.default_rng(1).integers(0, 255, (20, 96, 64), np.uint8))


def camera(server: MjpegServer, **options: float) -> StreamCamera:
    return StreamCamera(StreamOptions(**options), Aim(address=server.url))


def test_frames_come_whole_and_in_time() -> None:
    with MjpegServer(pictures(), rate_hz=200) as server, camera(server) as one:
        frames = list(islice(one.frames(), 60))
    assert not any(frame.damaged for frame in frames)
    first = next(
        k for k, p in enumerate(pictures()) if abs(int(p[0, 0]) - int(frames[0].pixels[0, 0])) < 1
    )
    sent = next(t for number, t in server.shown if number % 20 == first)
    times = dict(server.shown)
    start = next(number for number, t in server.shown if t == sent)
    off = [frame.t_ns - (times[start + k] - sent) for k, frame in enumerate(frames)]
    assert np.median(np.abs(off)) < 1_500_000


def test_half_a_picture_is_damaged_and_the_next_one_whole() -> None:
    with MjpegServer(rough(), rate_hz=200) as server, camera(server) as one:
        server.halved = {30, 41}
        frames = list(islice(one.frames(), 60))
    assert sum(frame.damaged for frame in frames) == 2


def test_a_silent_stream_is_lost_after_its_time() -> None:
    with MjpegServer(pictures(), rate_hz=200) as server, camera(server, silent_s=0.2) as one:
        frames = one.frames()
        next(frames)
        server.stall()
        with pytest.raises(SourceError, match=r"no picture for 0\.2 s"):
            for _ in frames:
                pass
        server.go_on()


def test_a_stream_that_breaks_off_is_lost() -> None:
    with MjpegServer(pictures(), rate_hz=200) as server, camera(server) as one:
        frames = one.frames()
        next(frames)
        server.kill()
        with pytest.raises(SourceError, match=r"the stream (ended|broke off)"):
            for _ in frames:
                pass


def test_nobody_there_is_said_with_the_address() -> None:
    with MjpegServer(pictures()) as server:
        url = server.url
    with pytest.raises(SourceError, match="cannot be opened") as caught:
        StreamCamera(StreamOptions(), Aim(address=url))
    assert caught.value.where == url
    assert caught.value.remedy
