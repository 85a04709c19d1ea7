"""What a lamp in view says beside the pulses that should switch it."""

import numpy as np
import pytest
from benchmarks.pairing.by_hand import pulses_at

from viscount.codes import Code
from viscount.counters.lamp import LampSaid, lamp_said
from viscount.values import LampEvent, Level, Pulse

STARTS = [100.0, 140.0, 175.0, 230.0, 260.0, 310.0]
DARK_MS = 6.0
ALWAYS = np.array([[-np.inf, np.inf]])
SIGMA_NS = 2_400_000


def pulses() -> list[Pulse]:
    return pulses_at(STARTS, DARK_MS, offset_s=0.0)


def lamp(late_ms: float = 0.0) -> list[LampEvent]:
    return [
        LampEvent(t_ns=round(1e6 * (t + after + late_ms)), on=on, sigma_ns=SIGMA_NS)
        for t in STARTS
        for after, on in ((0.0, True), (DARK_MS, False))
    ]


def said(events: list[LampEvent] | None, spans: np.ndarray = ALWAYS) -> LampSaid:
    own = pulses()
    return lamp_said(events, own, {p.id: p.start_ns for p in own}, spans, 1e5)


def test_no_lamp_says_nothing() -> None:
    assert said(None) == LampSaid()


def test_a_lamp_that_was_never_seen_to_change_is_worth_a_note() -> None:
    (note,) = said([]).notices
    assert (note.code, note.level) == (Code.LAMP_NOT_SEEN, Level.INFO)


@pytest.mark.parametrize("late_ms", [-4.0, 0.0, 4.0])
def test_a_lamp_that_goes_with_the_beam_says_nothing(late_ms: float) -> None:
    assert said(lamp(late_ms)) == LampSaid()


def test_a_lamp_of_something_else_contradicts() -> None:
    found = said(lamp(15.0))
    assert found.contradicts
    (doubt,) = found.notices
    assert (doubt.code, doubt.level) == (Code.LAMP_DISAGREES, Level.DOUBT)
    assert "switched 12 times" in doubt.text


def test_what_the_lamp_does_while_the_log_has_no_time_for_it_is_left_out() -> None:
    early = np.array([[0.0, 145e6]])
    assert said(lamp(15.0), early) == LampSaid()
