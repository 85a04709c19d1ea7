"""Commands settled by a lamp that is wired to the coil, beside what was commanded."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.errors import SourceError
from viscount.gate.coil_lamp import by_lamp_alone, off_the_board, on_capture_clock
from viscount.gate.commands import Commands
from viscount.values import LampEvent

AT_S = np.cumsum([0.3104, 0.0607, 0.0773, 0.0601, 0.0538, 0.0902, 0.0655, 0.0609])
INTERVAL_S = 1e-3


def shown(at_s, *, phase: float = 0.3, first_on: bool = False, interval_s: float = INTERVAL_S):  # type: ignore[no-untyped-def]
    """Return the changes of a lamp as frames at an interval tell them."""
    found = []
    for k, t in enumerate(at_s):
        before = (np.floor(t / interval_s - phase) + phase) * interval_s
        found.append(
            LampEvent(
                t_ns=round(1e9 * (before + interval_s / 2)),
                on=first_on == (k % 2 == 0),
                sigma_ns=round(1e9 * interval_s / 12**0.5),
            )
        )
    return found


def log(at_s, *, sigma_s: float = 0.0) -> Commands:  # type: ignore[no-untyped-def]
    return Commands(open_at_first=True, at_s=np.asarray(at_s), sigma_s=sigma_s)


@given(st.floats(-5e3, 5e3), st.floats(-400.0, 400.0), st.floats(0.0, 0.999))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_the_boards_clock_is_known_to_less_than_a_frame(
    offset_s: float, drift_ppm: float, phase: float
):
    board = offset_s + AT_S * (1 + 1e-6 * drift_ppm)
    found = off_the_board(log(board), shown(AT_S, phase=phase))
    off = np.abs(found.commands.at_s - AT_S)
    assert off.max() < 3.5 * found.commands.sigma_s
    # A change by itself is known to 0.29 frames; eight of them together to much less.
    assert found.commands.sigma_s < 0.2 * INTERVAL_S
    assert found.changes == 8


def test_a_clip_that_shows_some_of_the_logs_commands():
    found = off_the_board(log(AT_S + 70.0), shown(AT_S[2:7]))
    # Those before and after the clip are the board's, too, and none of the clip's.
    assert len(found.commands.at_s) == 5
    assert found.commands.at_s == pytest.approx(AT_S[2:7], abs=0.4e-3)
    assert found.commands.open_at_first


def test_even_times_go_with_the_log_in_several_ways():
    even = 0.3 + 0.06 * np.arange(10)
    with pytest.raises(SourceError, match="in 3 ways"):
        off_the_board(log(even + 9.0), shown(even[2:8]))


@pytest.mark.parametrize("settle", [off_the_board, on_capture_clock])
def test_a_lamp_of_something_else_is_refused(settle):  # type: ignore[no-untyped-def]
    other = AT_S[:6] + np.array([0.0, 0.02, 0.15, 0.18, 0.3, 0.31])
    with pytest.raises(SourceError, match="do not go with"):
        settle(log(AT_S), shown(other))
    with pytest.raises(SourceError, match="2 changes"):
        settle(log(AT_S), shown(AT_S[:2]))


def test_a_lamp_that_is_dark_while_the_coil_is_driven_is_refused():
    with pytest.raises(SourceError, match="lit while the coil is driven"):
        on_capture_clock(log(AT_S), shown(AT_S, first_on=True))


def test_a_late_log_is_set_right_and_its_lateness_told():
    late = np.array([1.0, 1.5, 0.5, 2.0, 1.1, 0.9, 1.4, 1.2]) * 1e-3
    found = on_capture_clock(log(AT_S - late), shown(AT_S))
    assert found.commands.at_s == pytest.approx(AT_S, abs=0.51e-3)
    assert found.commands.sigma_s == pytest.approx(INTERVAL_S / 12**0.5, rel=0.01)
    assert found.late_s == pytest.approx(late, abs=0.51e-3)


def test_a_lamp_alone_is_a_log():
    found = by_lamp_alone(shown(AT_S))
    assert found.commands.open_at_first
    assert found.commands.at_s == pytest.approx(AT_S, abs=0.51e-3)
    assert not by_lamp_alone(shown(AT_S, first_on=True)).commands.open_at_first


@pytest.mark.parametrize("settle", [off_the_board, on_capture_clock])
def test_a_log_of_some_of_the_changes(settle):  # type: ignore[no-untyped-def]
    """The log was begun after the lamp came into view, and ended before: the gate stood shut."""
    told = Commands(open_at_first=False, at_s=AT_S[1:7])
    found = settle(told, shown(AT_S))
    assert found.changes == 6
    assert not found.commands.open_at_first
    assert found.commands.at_s == pytest.approx(AT_S[1:7], abs=0.51e-3)


def test_too_few_changes_or_commands_tell_nothing():
    with pytest.raises(SourceError, match="3 changes of the lamp in view"):
        by_lamp_alone(shown(AT_S[:3]))
    for settle in (on_capture_clock, off_the_board):
        with pytest.raises(SourceError, match="log's 3 commands"):
            settle(log(AT_S[:3]), shown(AT_S))


@pytest.mark.parametrize(
    ("late_ms", "sigma_ms", "taken"),
    [
        (-3.0, 0.0, True),
        (-7.0, 0.0, False),
        (-7.0, 1.0, True),
        (95.0, 0.0, True),
        (104.0, 0.0, False),
        (104.0, 2.0, True),
    ],
)
def test_a_log_is_not_much_later_than_its_coil(late_ms: float, sigma_ms: float, taken: bool):
    own = log(AT_S - 1e-3 * late_ms, sigma_s=1e-3 * sigma_ms)
    if taken:
        found = on_capture_clock(own, shown(AT_S))
        assert found.commands.at_s == pytest.approx(AT_S, abs=0.51e-3)
        assert found.late_s == pytest.approx(np.full(8, 1e-3 * late_ms), abs=0.51e-3)
        return
    with pytest.raises(SourceError, match="do not go with"):
        on_capture_clock(own, shown(AT_S))


def test_of_several_ways_to_lay_a_log_on_the_lamp_the_least_late_is_taken():
    """Commands 20 ms apart: laid two further, the coil would be 41 ms late."""
    even = 0.3 + 0.02 * np.arange(10)
    found = on_capture_clock(log(even - 1e-3), shown(even[2:8]))
    assert found.commands.at_s == pytest.approx(even[2:8], abs=0.51e-3)
    assert found.late_s is not None
    assert found.late_s == pytest.approx(np.full(6, 1e-3), abs=0.51e-3)


def test_a_board_whose_output_jitters_a_little():
    """Changes 0.1 ms wide, and a board by 0.04 ms too early here, too late there."""
    jitter = 4e-5 * np.array([1, -1, -1, 1, 1, -1, 1, -1])
    at_s = np.round(AT_S, 4) + np.where(jitter > 0, 1e-6, 99e-6)
    frames = shown(at_s, phase=0.0, interval_s=1e-4)
    found = off_the_board(log(at_s - jitter + 9.0), frames)
    assert found.commands.at_s == pytest.approx(at_s, abs=0.1e-3)


@pytest.mark.parametrize(
    ("drift_ppm", "rest_s"), [(-400.0, 2.0), (0.0, 2.0), (400.0, 2.0), (100.0, 0.005)]
)
def test_drift_is_told_by_long_rests_and_the_uncertainty_is_honest(drift_ppm: float, rest_s: float):
    """Over 16 s a board that drifts would be off by milliseconds, ten times what is left open."""
    off = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        at_s = np.cumsum(rest_s * rng.uniform(0.25, 1.75, 8))
        board = 700.0 + rng.uniform(0, 1) + at_s * (1 + 1e-6 * drift_ppm)
        found = off_the_board(log(board), shown(at_s, phase=float(rng.uniform())))
        own = found.commands
        assert own.sigma_s < 0.4 * INTERVAL_S
        off.append((own.at_s - at_s)[[0, -1]] / own.sigma_s)
    # Below 1 where the slack for a board's jitter is a good part of what is left open.
    assert 0.5 < np.sqrt(np.mean(np.square(off))) < 1.1
