"""Garbage that is swept up between frames."""

import gc
import weakref
from collections.abc import Iterator

import pytest

from viscount.session.sweeper import AT_LAST, EVERY, Sweeper


class Ring:
    """What nobody reaches and no count of references frees."""

    def __init__(self) -> None:
        self.itself = self


def lost_ring() -> weakref.ref[Ring]:
    return weakref.ref(Ring())


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    frozen = gc.get_freeze_count()
    yield
    assert gc.isenabled()
    assert gc.get_freeze_count() == frozen


@pytest.mark.parametrize(("waiting", "frames"), [(0, EVERY), (1, AT_LAST)])
def test_a_ring_is_swept_up_once_it_is_time(waiting: int, frames: int) -> None:
    with Sweeper() as sweeper:
        ring = lost_ring()
        for _ in range(frames - 1):
            sweeper.frame(waiting)
        assert ring() is not None
        sweeper.frame(waiting)
        assert ring() is None
        again = lost_ring()
        sweeper.frame(waiting)
        assert again() is not None


def test_python_does_not_sweep_by_itself_and_does_so_again_afterwards() -> None:
    with Sweeper():
        assert not gc.isenabled()
        assert gc.get_freeze_count() > 0
        ring = lost_ring()
        kept = [[k] for k in range(20_000)]
        assert ring() is not None
    kept += [[k] for k in range(20_000)]
    assert ring() is None


def test_what_has_grown_old_is_swept_up_when_the_camera_is_opened() -> None:
    with Sweeper() as sweeper:
        old = Ring()
        for _ in range(3 * EVERY):
            sweeper.frame(waiting=0)
        ring = weakref.ref(old)
        del old
        for _ in range(EVERY):
            sweeper.frame(waiting=0)
        assert ring() is not None
        sweeper.opened()
        assert ring() is None


def test_what_was_off_stays_off() -> None:
    gc.disable()
    try:
        with Sweeper():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
