"""Gaps and intervals, at the line and carried to the blade."""

import numpy as np
import pytest
from watched import LENGTH, SPEED, passage, set_up

from viscount.monitor.model.gaps import Gaps
from viscount.stream import Poured, at_height

TIMES = [1.0, 1.03, 1.07, 1.09]


def test_on_a_belt_the_gap_is_the_interval_less_the_part() -> None:
    gaps = Gaps(needed_ms=12.0)
    gaps.passed([passage(k, t) for k, t in enumerate(TIMES)], set_up())
    part_ms = 1e3 * LENGTH / SPEED
    assert gaps.intervals_ms() == pytest.approx([30, 40, 20])
    assert gaps.gaps_ms() == pytest.approx([30 - part_ms, 40 - part_ms, 20 - part_ms], abs=1e-6)
    assert gaps.short() == 2
    assert gaps.short(until_s=1.05) == 1
    assert Gaps().short() is None


def test_at_the_blade_it_is_what_the_stream_has_there() -> None:
    speeds, fall = np.array([4000.0, 4200.0, 4400.0, 4500.0]), 39_000.0
    gaps = Gaps(120.0)
    parts = [
        passage(k, t, speed_px_s=v) for k, (t, v) in enumerate(zip(TIMES, speeds, strict=True))
    ]
    gaps.passed(parts, set_up(acceleration=fall))
    zeros, half = np.zeros(4), np.full(4, LENGTH / 2)
    pour = Poured(
        unit="px",
        t_s=np.array(TIMES),
        sigma_s=zeros,
        speed=speeds,
        sigma_speed=zeros,
        ahead=half,
        behind=half,
        sigma_end=0.0,
        doubt=zeros,
        acceleration=fall,
        sigma_acceleration=0.0,
    )
    stream = at_height(pour, 120.0)
    assert gaps.at_blade
    assert gaps.gaps_ms() == pytest.approx(1e3 * stream.gap_s, rel=1e-9)
    assert gaps.intervals_ms() == pytest.approx(1e3 * stream.interval_s, rel=1e-9)


def test_pours_have_no_gap_between_them() -> None:
    gaps = Gaps()
    gaps.passed([passage(1, 1.0), passage(2, 3.0)], set_up())
    assert len(gaps) == 0
    gaps.passed([passage(3, 3.1)], None)
    gaps.interrupt()
    gaps.passed([passage(4, 3.2), passage(5, 3.3, parts=0), passage(6, 3.4)], None)
    assert gaps.intervals_ms() == pytest.approx([100.0, 200.0])


def test_a_part_without_a_length_has_an_interval_only() -> None:
    gaps = Gaps()
    gaps.passed([passage(1, 1.0, length_px=None), passage(2, 1.1)], set_up())
    assert len(gaps.intervals_ms()) == 1
    assert len(gaps.gaps_ms()) == 0
