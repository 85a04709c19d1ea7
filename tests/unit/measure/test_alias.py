"""Aliases of flickering light."""

import pytest

from viscount.measure.alias import alias_hz, mains_candidates, possible_hz


@pytest.mark.parametrize(
    ("light_hz", "frames_hz", "seen_hz"),
    # Common knowledge of sampling: 100 Hz light at 90, 60 frames a second; 120 Hz at 30.
    [(100.0, 90.0, 10.0), (100.0, 60.0, 20.0), (120.0, 30.0, 0.0), (120.0, 100.0, 20.0)],
)
def test_what_the_frames_make_of_mains_light(light_hz: float, frames_hz: float, seen_hz: float):
    assert alias_hz(light_hz, frames_hz) == pytest.approx(seen_hz)


def test_an_alias_is_never_faster_than_half_the_frame_rate():
    for light_hz in range(1, 2000, 7):
        assert 0 <= alias_hz(light_hz, 120.0) <= 60.0


def test_both_mains_are_named_where_both_would_look_alike():
    assert mains_candidates(10.0, 110.0, 0.5) == (100.0, 120.0)
    assert mains_candidates(20.0, 120.0, 0.5) == (100.0,)
    assert mains_candidates(50.0, 120.0, 0.5) == ()


def test_all_that_is_possible_has_that_alias():
    found = list(possible_hz(20.0, 120.0, 500.0))
    assert found == [20.0, 100.0, 140.0, 220.0, 260.0, 340.0, 380.0, 460.0, 500.0]
    assert all(alias_hz(hz, 120.0) == pytest.approx(20.0) for hz in found)
