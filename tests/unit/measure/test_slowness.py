"""Slow motion shows in gravity."""

import pytest

from viscount.codes import Code
from viscount.measure.slowness import slowness


def test_eightfold_slow_motion():
    # g scales with the square of the slow-down: 9.81 / 64 = 0.153 m/s².
    found = slowness(9806.65 * 4.0 / 64.0, 4.0)
    assert found.times == pytest.approx(8.0)
    assert found.apparent_m_s2 == pytest.approx(0.153, abs=5e-4)
    notice = found.notice()
    assert notice.code is Code.CAPTURE_RATE_SLOWED
    assert "apparent g 0.15 m/s2, capture about 8x slowed" in notice.text


@pytest.mark.parametrize("share", [0.75, 0.85, 1.0, 1.1, 1.35])
def test_drag_place_and_scale_are_no_slow_motion(share: float):
    assert slowness(9806.65 * share, 1.0) is None


@pytest.mark.parametrize("frames", [(60, 50), (30, 25), (50, 60)])
def test_a_clip_played_at_a_neighbouring_rate_is_noticed(frames: tuple[int, int]):
    shown, taken = frames
    assert slowness(9806.65 * (taken / shown) ** 2, 1.0) is not None


def test_a_hurried_clip_is_called_so():
    assert "2x hurried" in slowness(9806.65 * 4.0, 1.0).notice().text
