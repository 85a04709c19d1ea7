"""Queues that never grow, values that never wait, and pictures that nobody holds up."""

import threading
from multiprocessing import Pipe

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.session.bounded import BoundedQueue
from viscount.session.feed import Feed, Missed
from viscount.session.observer import ObserverEnd
from viscount.session.picture_board import MOST_PLACES, PictureBoard
from viscount.session.spread import Percentiles


@given(
    steps=st.lists(st.one_of(st.integers(0, 30), st.none()), max_size=80),
    most=st.integers(1, 5),
)
def test_what_fits_comes_out_in_order_and_the_rest_is_turned_away(
    steps: list[int | None], most: int
) -> None:
    """A number is put with its own size, None gets."""
    queue: BoundedQueue[int] = BoundedQueue(most_items=most, most_bytes=50)
    inside: list[int] = []
    for step in steps:
        if step is None:
            assert queue.get(0.0) == (inside.pop(0) if inside else None)
            continue
        fits = not inside or (len(inside) < most and sum(inside) + step <= 50)
        assert queue.put(step, step) is fits
        if fits:
            inside.append(step)
        assert len(queue) == len(inside) <= most


def test_some_items_are_never_turned_away_and_a_closed_queue_is_emptied() -> None:
    queue: BoundedQueue[str] = BoundedQueue(most_items=1)
    assert queue.put("a")
    assert not queue.put("b")
    assert queue.put("c", anyway=True)
    queue.close()
    assert not queue.put("d", anyway=True)
    assert [queue.get(1.0), queue.get(1.0), queue.get(1.0)] == ["a", "c", None]


def test_whoever_waits_hears_of_the_end() -> None:
    queue: BoundedQueue[int] = BoundedQueue()
    got: list[object] = []
    waiting = threading.Thread(target=lambda: got.append(queue.get(30.0)))
    waiting.start()
    queue.close()
    waiting.join(5)
    assert got == [None]


def test_a_reader_that_is_too_slow_is_told_how_many_it_missed() -> None:
    reads, writes = Pipe(duplex=False)
    feed = Feed(writes, depth=4)
    large = "x" * 300_000
    feed.put(large)
    for number in range(100):
        feed.put(number)
    board = PictureBoard()
    end = ObserverEnd(board, reads)
    closing = threading.Thread(target=feed.close, args=(10.0,))
    closing.start()
    got: list[object] = []
    while not end.ended:
        got += end.values(5.0)
    closing.join()
    board.close()
    numbers = [one for one in got if one != large]
    assert numbers == sorted(numbers, key=int)  # type: ignore[call-overload]
    assert numbers[-4:] == [96, 97, 98, 99]
    assert end.missed == 101 - len(got) > 0


def test_what_must_not_be_missed_waits_however_slow_the_reader() -> None:
    reads, writes = Pipe(duplex=False)
    feed = Feed(writes, depth=4, keeps=(str,))
    large = b"x" * 300_000
    feed.put(large)
    feed.put("begins")
    for number in range(100):
        feed.put(number)
    board = PictureBoard()
    end = ObserverEnd(board, reads)
    closing = threading.Thread(target=feed.close, args=(10.0,))
    closing.start()
    got: list[object] = []
    while not end.ended:
        got += end.values(5.0)
    closing.join()
    board.close()
    assert "begins" in got
    assert got[-3:] == [97, 98, 99]
    assert end.missed == 102 - len(got) > 0


def test_a_feed_whose_reader_is_gone_holds_nobody_up() -> None:
    reads, writes = Pipe(duplex=False)
    feed = Feed(writes)
    reads.close()
    for number in range(10_000):
        feed.put(number)
    assert feed.close(5.0)


def test_a_feed_whose_reader_sleeps_is_left_behind() -> None:
    reads, writes = Pipe(duplex=False)
    feed = Feed(writes)
    for _ in range(50):
        feed.put(b"x" * 100_000)
    assert not feed.close(0.05)
    reads.close()
    assert feed.close(5.0)


def test_missed_is_told_before_what_follows() -> None:
    reads, writes = Pipe(duplex=False)
    writes.send(Missed(count=3))
    writes.send("next")
    writes.close()
    board = PictureBoard()
    end = ObserverEnd(board, reads)
    assert list(end.values(1.0)) == ["next"]
    assert end.missed == 3
    assert end.ended
    board.close()


def picture(number: int, shape: tuple[int, int] = (48, 32)) -> np.ndarray:
    return np.full(shape, number % 251, np.uint8)


def test_the_newest_picture_is_seen_by_another() -> None:
    board = PictureBoard()
    other = PictureBoard(board.name)
    assert other.newest() is None
    for number in range(7):
        board.show(picture(number), index=number, t_ns=number * 1000, age_ns=5)
    seen = other.newest()
    assert seen is not None
    assert (seen.index, seen.t_ns, seen.age_ns, seen.shrunk) == (6, 6000, 5, 1)
    assert (seen.pixels == 6).all()
    assert other.newest(after=6) is None
    other.close()
    board.close()
    board.close()


def test_all_pictures_that_are_still_there_are_seen_in_order() -> None:
    board = PictureBoard()
    other = PictureBoard(board.name)
    assert other.since(-1) == []
    for number in range(300):
        board.show(picture(number), index=number, t_ns=number * 1000, age_ns=5)
    seen = other.since(250)
    assert [one.index for one in seen] == list(range(251, 300))
    assert all((one.pixels == one.index % 251).all() for one in seen)
    assert [one.index for one in other.since(-1)] == list(range(300 - MOST_PLACES, 300))
    assert other.since(299) == []
    other.close()
    board.close()


def test_larger_pictures_take_the_places_of_smaller_ones() -> None:
    board = PictureBoard()
    for number in range(10):
        board.show(picture(number), index=number, t_ns=0, age_ns=0)
    board.show(picture(10, (2000, 4000)), index=10, t_ns=0, age_ns=0)
    board.show(picture(11, (300, 300)), index=11, t_ns=0, age_ns=0)
    assert [one.index for one in board.since(-1)] == [10, 11]
    for number in range(12, 16):
        board.show(picture(number, (2000, 4000)), index=number, t_ns=0, age_ns=0)
    assert [one.index for one in board.since(-1)] == [13, 14, 15]
    newest = board.newest()
    assert newest is not None
    assert (newest.index, newest.pixels.shape) == (15, (2000, 4000))
    board.close()


def test_an_observer_takes_each_picture_once() -> None:
    board = PictureBoard()
    reads, _writes = Pipe(duplex=False)
    end = ObserverEnd(board, reads)
    for number in range(5):
        board.show(picture(number), index=number, t_ns=0, age_ns=0)
    assert [one.index for one in end.pictures()] == [0, 1, 2, 3, 4]
    assert end.pictures() == []
    assert end.picture() is None
    board.show(picture(5), index=5, t_ns=0, age_ns=0)
    assert [one.index for one in end.pictures()] == [5]
    board.close()


def test_a_picture_that_is_too_large_is_shrunk() -> None:
    board = PictureBoard()
    board.show(
        np.arange(4000 * 4000, dtype=np.uint32).astype(np.uint8).reshape(4000, 4000),
        index=0,
        t_ns=0,
        age_ns=0,
    )
    seen = board.newest()
    assert seen is not None
    assert seen.shrunk == 2
    assert seen.pixels.shape == (2000, 2000)
    board.close()


def test_no_reader_ever_sees_half_of_one_picture_and_half_of_another() -> None:
    board = PictureBoard()
    other = PictureBoard(board.name)
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            board.show(picture(number, (300, 300)), index=number, t_ns=0, age_ns=0)
            number += 1

    writing = threading.Thread(target=write)
    writing.start()
    seen, last = 0, -1
    while seen < 40:
        for one in other.since(last):
            assert (one.pixels == one.index % 251).all()
        one = other.newest(after=last)
        if one is None:
            continue
        assert (one.pixels == one.index % 251).all()
        assert one.index > last
        last, seen = one.index, seen + 1
    stop.set()
    writing.join()
    other.close()
    board.close()


@pytest.mark.parametrize("seed", [1, 2])
def test_percentiles_are_those_of_numpy(seed: int) -> None:
    values = np.random.default_rng(seed).lognormal(-6, 1, 5000)
    spread = Percentiles()
    for value in values:
        spread.add(float(value))
    for share in (0.5, 0.9, 0.99):
        assert spread.at(share) == pytest.approx(float(np.quantile(values, share)), rel=0.05)
    assert spread.most == values.max()
    assert len(spread) == 5000
    assert Percentiles().at(0.5) is None
