"""Strokes from the share of a box that is covered, frame by frame."""

import numpy as np
import pytest
from bags_by_hand import told
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.gate.filmed import FilmedStroke, strokes_of

INTERVAL_S = 1e-3
T_S = INTERVAL_S * np.arange(1000)


def share_of(*strokes: tuple[float, float, bool], dip: float = 0.0, dip_s: float = 0.0):  # type: ignore[no-untyped-def]
    """An even sweep from one time to another, to shut or to open; then one that springs back."""
    share = np.zeros(len(T_S))
    for begins, done, shuts in strokes:
        way = np.clip((T_S - begins) / (done - begins), 0.0, 1.0)
        if dip_s:
            way -= dip * np.sin(np.pi * np.clip((T_S - done) / dip_s, 0.0, 1.0))
        share = np.where(begins > T_S, share, way if shuts else 1.0 - way)
    return share


def measured(share, *at_s: float, sigma: float = 1e-3, **more) -> list[FilmedStroke]:  # type: ignore[no-untyped-def]
    return strokes_of(T_S, share, sigma, told(*at_s, sigma_s=0.0), exposure_s=1e-4, **more)


@given(st.floats(0.0, 1e-3), st.floats(4e-3, 12e-3))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_an_even_stroke_is_found_within_its_uncertainty(phase: float, takes: float) -> None:
    begins, opens = 0.108 + phase, 0.302 + phase
    share = share_of((begins, begins + takes, True), (opens, opens + takes, False))
    shut, opened = measured(share, 0.1, 0.3)
    assert (shut.shuts, opened.shuts) == (True, False)
    for one, true, at in ((shut, begins, 0.1), (opened, opens, 0.3)):
        assert not one.why
        assert one.begins_s is not None
        assert one.done_s is not None
        assert abs(one.begins_s - (true - at)) < 2.5 * one.sigma_begins_s
        assert abs(one.done_s - (true - at + takes)) < 2.5 * one.sigma_done_s
        assert one.sigma_done_s < INTERVAL_S / 3
        assert one.rebound == 0.0


def test_a_rebound_ends_the_stroke_later() -> None:
    share = share_of((0.108, 0.114, True), dip=0.2, dip_s=5e-3)
    (shut,) = measured(share, 0.1)
    assert shut.rebound == pytest.approx(0.2, abs=0.03)
    assert shut.done_s == pytest.approx(0.019, abs=1e-3)


def test_a_blade_that_is_across_between_two_frames_is_anywhere_between_them() -> None:
    (shut,) = measured(share_of((0.1082, 0.1085, True)), 0.1)
    assert shut.begins_s == pytest.approx(0.0085)
    assert shut.sigma_begins_s == pytest.approx(INTERVAL_S / 12**0.5, rel=0.02)


@pytest.mark.parametrize(
    ("share", "at_s", "why"),
    [
        (share_of((0.108, 0.114, True)) + 0.3 * ((T_S > 0.09) & (T_S < 0.095)), 0.1, "in the box"),
        (share_of((0.992, 0.9985, True)), 0.985, "not at rest"),
        (share_of(), 0.1, "does not show"),
        (share_of((0.108, 0.114, True)), 5.0, "does not show"),
    ],
)
def test_what_cannot_be_told_says_why(share, at_s: float, why: str) -> None:  # type: ignore[no-untyped-def]
    (one,) = measured(share, at_s)
    assert why in one.why
    assert one.begins_s is None
