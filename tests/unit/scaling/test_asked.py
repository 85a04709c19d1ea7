"""What is asked for, and what that needs."""

import pytest

from viscount.errors import UsageError
from viscount.measure.scale.way import By
from viscount.scaling.asked import Asked, Ways


def test_without_a_word_every_way_is_wanted_and_none_insisted_on():
    plain = Asked()
    assert all(plain.wants(way) for way in Ways)
    assert not any(plain.insists(way) for way in Ways)


def test_one_way_alone():
    one = Asked(by=frozenset({Ways.GRAVITY}))
    assert [way for way in Ways if one.wants(way)] == [Ways.GRAVITY]
    assert one.insists(By.GRAVITY)
    assert not one.insists(By.PART)


@pytest.mark.parametrize(
    ("height", "width", "mode"),
    [(480, 640, (640, 480)), (640, 480, (640, 480)), (1232, 1640, (1640, 1232))],
)
def test_a_mode_is_told_by_the_pictures_size(height: int, width: int, mode: tuple[int, int]):
    found = Asked(sensor="IMX219").sensor_mode(height, width)
    assert found is not None
    assert (found.width, found.height) == mode


def test_a_stated_mode_stands_over_the_size():
    found = Asked(sensor="IMX219", mode=(1640, 1232)).sensor_mode(480, 640)
    assert found is not None
    assert found.height == 1232


@pytest.mark.parametrize("mode", [None, (100, 100)])
def test_a_mode_that_is_not_known(mode: tuple[int, int] | None):
    with pytest.raises(UsageError, match=r"no mode|its mode is not known"):
        Asked(sensor="OV5647", mode=mode).sensor_mode(77, 77)


def test_no_sensor_no_mode():
    assert Asked().sensor_mode(480, 640) is None
