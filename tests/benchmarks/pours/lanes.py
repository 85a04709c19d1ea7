"""Work done side by side, in one process for each lane."""

import multiprocessing
import os
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from typing import TypeVar

import cv2

T = TypeVar("T")


def side_by_side(
    work: Callable[[T], str], items: Iterable[T], lanes: int
) -> Iterator[tuple[T, str | None]]:
    """Yield each item with what `work` made of it, in the order in which they are finished.

    `work` must be known by name to another process. Where the process died over an item, it is
    yielded with None: each lane is a pool of its own, so that it is known which one that was.
    """
    waiting = iter(items)
    running: dict[Future[str], tuple[T, ProcessPoolExecutor]] = {}

    def begin_next(lane: ProcessPoolExecutor) -> None:
        for item in islice(waiting, 1):
            running[lane.submit(work, item)] = (item, lane)

    try:
        for _ in range(lanes):
            begin_next(_lane())
        while running:
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                item, lane = running.pop(future)
                died = isinstance(future.exception(), BrokenProcessPool)
                begin_next(_lane() if died else lane)
                yield item, None if died else future.result()
    finally:
        for _, lane in running.values():
            lane.shutdown(wait=False, cancel_futures=True)


def _lane() -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=spawn, initializer=_begin)


def _begin() -> None:
    """Leave the other cores to the other lanes, and outlive nobody."""
    cv2.setNumThreads(1)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
