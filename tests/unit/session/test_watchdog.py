"""The watchdog, with times handed in."""

from viscount.codes import Code
from viscount.session.watchdog import SETTLED, Limits, Watchdog

S = 1_000_000_000
MS = 1_000_000


def run(dog: Watchdog, start_ns: int, count: int, every_ns: int, *, repeated: bool = False) -> int:
    """Hand it frames; return when the last one came."""
    now = start_ns
    for _ in range(count):
        now += every_ns
        dog.frame(now, repeated=repeated)
    return now


def code(dog: Watchdog, now_ns: int) -> Code | None:
    trouble = dog.trouble(now_ns)
    return None if trouble is None else trouble.code


def test_a_steady_camera_is_left_alone() -> None:
    dog = Watchdog(0)
    now = run(dog, 0, 1000, 8 * MS)
    assert code(dog, now + 100 * MS) is None


def test_the_first_picture_may_take_a_while() -> None:
    dog = Watchdog(5 * S)
    assert code(dog, 14 * S) is None
    assert code(dog, 16 * S) is Code.CAMERA_SILENT


def test_silence_counts_by_time_and_by_the_cameras_own_interval() -> None:
    dog = Watchdog(0)
    now = run(dog, 0, SETTLED, 8 * MS)
    assert code(dog, now + 490 * MS) is None
    assert code(dog, now + 510 * MS) is Code.CAMERA_SILENT
    slow = Watchdog(0)
    now = run(slow, 0, SETTLED, 200 * MS)
    assert code(slow, now + 1500 * MS) is None
    assert code(slow, now + 1700 * MS) is Code.CAMERA_SILENT


def test_the_same_picture_over_and_over_is_hanging() -> None:
    dog = Watchdog(0)
    now = run(dog, 0, 200, 8 * MS)
    now = run(dog, now, 200, 8 * MS, repeated=True)
    assert code(dog, now) is None
    now = run(dog, now, 60, 8 * MS, repeated=True)
    assert code(dog, now) is Code.CAMERA_HANGS


def test_where_pictures_may_repeat_they_do() -> None:
    dog = Watchdog(0, watches_repeats=False)
    now = run(dog, 0, 2000, 8 * MS, repeated=True)
    assert code(dog, now) is None


def test_a_camera_that_slows_down_is_noticed_after_a_while() -> None:
    dog = Watchdog(0)
    now = run(dog, 0, 300, 8 * MS)
    slowed = run(dog, now, 100, 16 * MS)
    assert code(dog, slowed) is None
    later = run(dog, slowed, 100, 16 * MS)
    trouble = dog.trouble(later)
    assert trouble is not None
    assert trouble.code is Code.CAMERA_SLOWED
    assert trouble.text == "62.5 pictures a second, where it sent 125"


def test_a_short_stumble_is_none() -> None:
    dog = Watchdog(0)
    now = run(dog, 0, 300, 8 * MS)
    now = run(dog, now, 60, 16 * MS)
    now = run(dog, now, 300, 8 * MS)
    assert code(dog, now) is None


def test_a_camera_that_was_known_before_is_known_again() -> None:
    dog = Watchdog(0, interval_ns=8.0 * MS)
    now = run(dog, 0, 200, 20 * MS)
    assert code(dog, now) is Code.CAMERA_SLOWED


def test_limits_are_those_handed_in() -> None:
    dog = Watchdog(0, limits=Limits(silent_s=0.1, silent_intervals=2))
    now = run(dog, 0, 5, 8 * MS)
    assert code(dog, now + 110 * MS) is Code.CAMERA_SILENT


def test_a_camera_that_is_not_known_yet_may_be_a_slow_one() -> None:
    """A picture a second, into a folder."""
    dog = Watchdog(0)
    dog.frame(1 * S, repeated=False)
    assert code(dog, 9 * S) is None
    dog.frame(2 * S, repeated=False)
    assert code(dog, 9 * S) is None
    assert code(dog, 11 * S) is Code.CAMERA_SILENT
