"""Reading ahead: what a thread of its own hands over, and how it ends."""

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from viscount.clips.ahead import MOST_READY, ReadAhead
from viscount.clips.reader import ClipReader
from viscount.errors import SourceError

ClipMaker = Callable[..., Path]
LONG_S = 20.0


def readers() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "read ahead"]


class Made:
    """Items that note who made them, and let a test wait until so many are made."""

    def __init__(self, count: int, *, wanted: int = 0, error: BaseException | None = None) -> None:
        self.makers: list[threading.Thread] = []
        self.enough = threading.Event()
        self._count, self._wanted, self._error = count, wanted, error

    def __iter__(self) -> Iterator[int]:
        for number in range(self._count):
            self.makers.append(threading.current_thread())
            if len(self.makers) == self._wanted:
                self.enough.set()
            yield number
        if self._error is not None:
            raise self._error


@pytest.mark.parametrize("most", [1, 3, 100])
def test_items_come_in_order_from_one_other_thread(most: int) -> None:
    made = Made(50)
    ahead = ReadAhead(iter(made), most=most)
    assert list(ahead) == list(range(50))
    assert list(ahead) == []
    ahead.close()
    assert len(set(made.makers)) == 1
    assert made.makers[0] is not threading.current_thread()
    assert readers() == []


def test_as_many_are_made_ahead_as_may_wait_and_no_more() -> None:
    made = Made(50, wanted=2 + MOST_READY)
    ahead = ReadAhead(iter(made))
    assert [next(ahead), next(ahead)] == [0, 1]
    assert made.enough.wait(LONG_S)
    ahead.close()
    assert len(made.makers) == 2 + MOST_READY


def test_items_are_handed_over_and_not_copied() -> None:
    items = [np.zeros(3), np.ones(3)]
    ahead = ReadAhead(iter(items))
    assert all(came is item for came, item in zip(ahead, items, strict=True))


@pytest.mark.parametrize("error", [SourceError("no more"), KeyboardInterrupt(), MemoryError()])
def test_an_error_comes_unchanged_after_what_came_before_it(error: BaseException) -> None:
    ahead = ReadAhead(iter(Made(3, error=error)))
    assert [next(ahead), next(ahead), next(ahead)] == [0, 1, 2]
    with pytest.raises(type(error)) as caught:
        next(ahead)
    assert caught.value is error
    assert list(ahead) == []
    ahead.close()
    assert readers() == []


@pytest.mark.parametrize("taken", [0, 1, 5])
def test_closing_early_ends_the_thread_and_the_items(taken: int) -> None:
    made = Made(1000, wanted=taken + MOST_READY)
    ahead = ReadAhead(iter(made))
    assert [next(ahead) for _ in range(taken)] == list(range(taken))
    if taken:  # the thread now waits for room
        assert made.enough.wait(LONG_S)
    ahead.close()
    ahead.close()
    assert list(ahead) == []
    assert readers() == []


def test_whoever_waits_while_it_is_closed_gets_no_more_than_the_item_at_hand() -> None:
    asked, go = threading.Event(), threading.Event()

    def slow() -> Iterator[int]:
        asked.set()
        go.wait(LONG_S)
        yield 0
        yield 1

    ahead = ReadAhead(slow())
    got: list[int] = []
    waiting = threading.Thread(target=lambda: got.extend(ahead))
    waiting.start()
    assert asked.wait(LONG_S)
    closing = threading.Thread(target=ahead.close)
    closing.start()
    go.set()
    closing.join(LONG_S)
    waiting.join(LONG_S)
    assert not closing.is_alive()
    assert not waiting.is_alive()
    assert got in ([], [0], [0, 1])  # whichever came first


def pictures(path: Path, *, ahead: bool) -> tuple[list[bytes], list[object], object]:
    with ClipReader(path, threads=1, ahead=ahead) as clip:
        came = list(clip)
        report = clip.report()
    assert readers() == []
    rest = [(one.t_ns, one.damaged, one.repeated, one.pixels.flags.writeable) for one in came]
    return [one.pixels.tobytes() for one in came], rest, report


def noise(count: int) -> list[np.ndarray]:  # type: ignore[type-arg]
    made = list(np.random.default_rng(3).normal(100, 2, (count, 120, 160)).astype(np.uint8))
    made[20] = made[19]
    return made


H264 = {"codec": "libx264", "pix_fmt": "yuv420p", "codec_options": {"crf": "18"}}
"""With B-frames, whose pictures the decoder still needs once they are handed on."""


@pytest.mark.parametrize("codec", [H264, {}], ids=["h264", "ffv1"])
@pytest.mark.parametrize("keep", [1.0, 0.6], ids=["whole", "cut"])
def test_a_clip_read_ahead_gives_the_same_pictures_and_report(
    write_clip: ClipMaker, codec: dict[str, object], keep: float
) -> None:
    path = write_clip("clip.mkv", noise(60), [40 * k for k in range(60)], **codec)
    data = path.read_bytes()
    path.write_bytes(data[: int(keep * len(data))])
    ahead, plain = pictures(path, ahead=True), pictures(path, ahead=False)
    assert len(plain[0]) == 60 if keep == 1.0 else 20 <= len(plain[0]) < 60
    assert ahead == plain


def test_a_clip_that_is_closed_gives_no_more_and_is_not_taken_for_read(
    write_clip: ClipMaker,
) -> None:
    path = write_clip("clip.mkv", noise(40), [40 * k for k in range(40)])
    clip = ClipReader(path, threads=1, ahead=True)
    came = iter(clip)
    next(came)
    next(came)
    clip.close()
    assert list(came) == []
    assert not clip.report().ended
    assert readers() == []
