"""Windows and triggers of single cuts, against sums done by hand."""

import numpy as np
import pytest
from poured_by_hand import even_strokes, poured, strokes

from viscount.errors import UsageError
from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.gate.rows import CutRow
from viscount.gate.strokes import Strokes
from viscount.gate.trials import Trials

AT_BEAM = Places(beam=4.0, blade=34.0)
"""Heads are at the beam as centres cross the line, 4 mm above it; the blade 30 mm below."""
SLOW, NO_STROKE = even_strokes((8, 14), (12, 18)), even_strokes((12, 18), (12, 18))
HOST = Lateness(least_s=0.016, most_s=0.032)
"""A serial line of 16 ms each way."""


def cut(interval_ms: float, gate: Strokes | None, late: Lateness | None = None) -> CutRow:
    """Part N of 8 mm at 1.5 m/s at the beam, the next so much later; g is 9.81 m/s²."""
    pour = poured([0.0, 1e-3 * interval_ms], 1500.0, g=9810.0)
    (row,) = plan_cuts([pour], AT_BEAM, gate, lateness=late).rows
    return row


def window_ms(row: CutRow) -> tuple[float, float]:
    assert row.trigger.window is not None
    return (1e3 * row.trigger.window.earliest_s, 1e3 * row.trigger.window.latest_s)


def hundredths(*values_ms: float) -> object:
    return pytest.approx(values_ms, abs=0.005)


def test_when_tail_clears_and_next_head_arrives() -> None:
    for interval_ms in (8, 12, 40):
        own = cut(interval_ms, SLOW).trigger
        assert 1e3 * own.clear_s == pytest.approx(23.52, abs=0.005)
        assert 1e3 * own.arrive_s == pytest.approx(interval_ms + 18.84, abs=0.005)


@pytest.mark.parametrize(
    ("interval_ms", "gate", "late", "span_ms", "fits"),
    [
        (8, SLOW, None, (15.52, 8.84), False),
        (12, SLOW, None, (15.52, 12.84), False),
        (40, SLOW, None, (15.52, 40.84), True),
        (12, NO_STROKE, None, (11.52, 12.84), True),
        (12, SLOW, HOST, (-0.48, -19.16), False),
        (40, SLOW, HOST, (-0.48, 8.84), True),
    ],
)
def test_windows_to_the_hundredth_of_a_millisecond(
    interval_ms: float,
    gate: Strokes,
    late: Lateness | None,
    span_ms: tuple[float, float],
    fits: bool,
) -> None:
    row = cut(interval_ms, gate, late)
    assert window_ms(row) == hundredths(*span_ms)
    assert row.trigger.fits is fits
    assert (row.outcome is not None and row.outcome.exact.estimate == 1.0) is fits


def test_the_middle_of_the_window_is_commanded() -> None:
    row = cut(40, SLOW)
    assert row.trigger.delay_s is not None
    assert 1e3 * row.trigger.delay_s == pytest.approx(28.18, abs=0.005)
    host = cut(40, SLOW, HOST).trigger
    assert host.delay_s is not None
    assert 1e3 * host.delay_s == pytest.approx((0.0 + 8.84) / 2, abs=0.3)


def test_least_interval_that_can_be_promised() -> None:
    for gate, least_ms in ((SLOW, 14.68), (NO_STROKE, 10.68)):
        for interval_ms in (8, 12, 40):
            row = cut(interval_ms, gate)
            assert row.least_interval_s is not None
            assert 1e3 * row.least_interval_s == pytest.approx(least_ms, abs=0.005)
    assert cut(14.67, SLOW).trigger.fits is False
    assert cut(14.69, SLOW).trigger.fits is True


def test_strokes_of_one_length_are_cut_within_the_gap_though_none_is_promised() -> None:
    """Each stroke takes 4 ms, the gap 7.3 ms: a command hits it for about half of them."""
    row = cut(12, SLOW)
    assert row.trigger.chance == pytest.approx(0.55)
    assert row.outcome is not None
    # The others choose a delay that suits themselves, where any of many would do as well.
    assert 0.35 < row.outcome.exact.estimate < 0.55
    assert row.outcome.exact.estimate + row.outcome.pinched.estimate == pytest.approx(1.0)


def test_what_the_gate_takes_longer_is_commanded_earlier() -> None:
    raised = strokes(np.linspace(8, 14, 20) + 15, np.linspace(12, 18, 20) + 15)
    now, then = cut(40, SLOW).trigger, cut(40, raised).trigger
    assert now.delay_s is not None
    assert then.delay_s is not None
    assert now.delay_s - then.delay_s == pytest.approx(0.015, abs=1e-12)
    assert np.subtract(window_ms(cut(40, SLOW)), window_ms(cut(40, raised))) == pytest.approx(15.0)


def test_without_strokes_only_the_room_is_told() -> None:
    row = cut(12, None)
    assert (row.trigger.window, row.trigger.delay_s, row.outcome) == (None, None, None)
    assert (row.expected, row.promised, row.least_interval_s) == (None, None, None)
    assert 1e3 * (row.trigger.arrive_s - row.trigger.clear_s) == pytest.approx(7.32, abs=0.005)


def test_a_slow_gate_is_commanded_from_an_earlier_part() -> None:
    """Parts 25 ms apart, and a gate that needs 60 ms: from N's own head it comes too late."""
    pour = poured(0.025 * np.arange(6), 1500.0, g=9810.0)
    rows = plan_cuts([pour], AT_BEAM, strokes([60.0, 61.0], [63.0, 64.0])).rows
    assert [row.trigger.back for row in rows] == [0, 1, 2, 2, 2]
    assert rows[0].outcome is None
    third = rows[2]
    assert third.triggers[0].chance == 0.0
    assert third.trigger.chance == 1.0
    assert third.trigger.delay_s is not None
    middle = 0.050 + (23.52 - 60 + 25 + 18.84 - 64) * 0.5e-3
    assert third.trigger.delay_s == pytest.approx(middle, abs=1e-5)


def test_several_pours_share_one_window() -> None:
    """The last tail of all must have cleared, and the first head not yet have come."""
    pours = [poured([0.0, 0.040], u, g=9810.0) for u in (1400.0, 1500.0, 1600.0)]
    alone = [plan_cuts([pour], AT_BEAM, SLOW).rows[0].trigger for pour in pours]
    both = plan_cuts(pours, AT_BEAM, SLOW).rows[0].trigger
    assert both.clear_s == max(t.clear_s for t in alone)
    assert both.arrive_s == min(t.arrive_s for t in alone)


def test_doubt_of_the_times_narrows_the_window_by_two_sigma_each() -> None:
    pour = poured([0.0, 0.040], 1500.0, g=9810.0, sigma_s=np.full(2, 2e-4))
    (row,) = plan_cuts([pour], AT_BEAM, SLOW).rows
    early, late = window_ms(row)
    # N's own error of time is the same at beam and blade; that of N + 1 is not N's.
    assert early == pytest.approx(15.52, abs=0.005)
    assert late == pytest.approx(40.84 - 2 * np.sqrt(2) * 0.2, abs=0.05)


def test_held_are_those_between_beam_and_blade() -> None:
    """Ten parts 10 ms apart: with the gate shut 22 ms after the last part's head, two have come."""
    pour = poured(0.010 * np.arange(10), 1500.0, g=9810.0)
    (row,) = plan_cuts([pour], AT_BEAM, strokes([1.0], [2.0]), each=5).rows
    assert row.outcome is not None
    held, delay = row.outcome.held_past_beam, row.trigger.delay_s
    assert delay is not None
    # Heads of parts 6, 7 ... pass the beam 10, 20 ... ms after that of part 5.
    assert held.median == held.most == int((delay + 0.002) / 0.010)
    assert row.outcome.held_past_line == held


def test_a_pinched_part_is_not_held() -> None:
    """The blade comes 1 ms after the head of part 6: that one is pinched, 7 and 8 lie on it."""
    pour = poured(0.010 * np.arange(10), 1500.0, g=9810.0)
    trials = Trials([pour], AT_BEAM, strokes([1.0], [2.0]), Lateness(), seed=1)
    stream = trials.streams[0]
    delay = float(stream.head_s[0, 5] - stream.at_beam_s[0, 4]) - 0.001 + 0.001
    found = trials.outcome(5, 0, np.array(delay))
    assert found.pinched.estimate == 1.0
    closed_s = stream.at_beam_s[0, 4] + delay + 0.002
    past = int((stream.at_beam_s[0] <= closed_s).sum())
    assert found.held_past_beam.most == past - 6 > 0


def test_a_beam_below_the_blade_cannot_tell() -> None:
    with pytest.raises(UsageError, match="below the blade"):
        Places(beam=40.0, blade=34.0)
