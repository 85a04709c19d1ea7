"""Whether a beam is in order."""

import numpy as np
import pytest

from viscount.beam.health import beam_health
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.values import Level, Pulse, Unwatched, Watched

MS = 1_000_000
RECORD = BeamRecord(watched=(Watched(epoch=0, start_ns=0, end_ns=1000 * MS),), edges=40)


def every(ms: float, count: int, first_ms: float = 10.0) -> list[int]:
    return [round((first_ms + ms * k) * MS) for k in range(count)]


def screws(pulse_row, count: int = 20, scatter: float = 0.02) -> list[Pulse]:
    darks = 5.0 * (1 + scatter * np.random.default_rng(1).standard_normal(count))
    return pulse_row([(25 * k + 8, 25 * k + 8 + d) for k, d in enumerate(darks)])


def found(*args: object, **options: object) -> list[tuple[Code, Level, str]]:
    return [(n.code, n.level, n.text) for n in beam_health(*args, **options)]


def test_a_beam_in_order(pulse_row):
    assert found(screws(pulse_row), RECORD) == []
    assert found(screws(pulse_row), RECORD, passages=20, expected_ns=5.0 * MS) == []
    assert found(screws(pulse_row), RECORD, passages={0: every(25, 20)}) == []
    assert found([], RECORD, passages=0) == []
    assert found([], RECORD, passages={0: []}) == []


@pytest.mark.parametrize("passages", [12, {0: every(25, 12)}])
def test_a_beam_that_never_changes_while_the_camera_counts(passages: object):
    ((code, level, text),) = found([], RECORD, passages=passages)
    assert (code, level) == (Code.BEAM_STUCK_OPEN, Level.DOUBT)
    assert "12 parts" in text


@pytest.mark.parametrize("passages", [12, {0: every(25, 12, 20.0)}])
def test_a_beam_that_stays_blocked_while_the_camera_counts(passages: object):
    blocked = [Pulse(id=0, epoch=0, start_ns=0, end_ns=1000 * MS, cut=True)]
    ((code, level, text),) = found(blocked, RECORD, passages=passages)
    assert (code, level) == (Code.BEAM_STUCK_BLOCKED, Level.DOUBT)
    assert "12 parts" in text


def test_a_beam_that_fails_in_mid_pour(pulse_row):
    """It sees ten of twenty parts, then none; where edges are missing that is no fault of it."""
    pulses = screws(pulse_row)[:10]
    ((code, _, text),) = found(pulses, RECORD, passages={0: every(25, 20)})
    assert code is Code.BEAM_STUCK_OPEN
    assert "light from 0.238 s to 1.000 s" in text
    gap = Unwatched(epoch=0, start_ns=238 * MS, end_ns=600 * MS, edges_lost=20, pulses_lost=10)
    record = BeamRecord(watched=RECORD.watched, unwatched=(gap,), edges=40)
    assert found(pulses, record, passages={0: every(25, 20)}) == []


def test_a_part_that_sticks_in_the_beam(pulse_row):
    pulses = screws(pulse_row)[:10]
    pulses.append(Pulse(id=10, epoch=0, start_ns=258 * MS, end_ns=900 * MS))
    ((code, _, text),) = found(pulses, RECORD, passages={0: every(25, 20)})
    assert code is Code.BEAM_STUCK_BLOCKED
    assert "blocked from 0.258 s to 0.900 s" in text
    assert "10 parts" in text


def test_parts_that_a_beam_misses_now_and_then_are_no_fault(pulse_row):
    """Every third, and once four in a row."""
    pulses = [p for p in screws(pulse_row) if p.id % 3 and not 8 <= p.id <= 10]
    assert found(pulses, RECORD, passages={0: every(25, 20)}) == []


def test_passages_of_another_epoch_say_nothing():
    assert found([], RECORD, passages={1: every(25, 20)}) == []


def test_a_sensor_that_stretches_short_pulses(pulse_row):
    """Parts dark for 3 to 7 ms behind a one-shot of 5 ms."""
    darks = np.maximum(np.random.default_rng(2).uniform(3, 7, 40), 5.0)
    pulses = pulse_row([(25 * k, 25 * k + d) for k, d in enumerate(darks)])
    ((code, level, text),) = found(pulses, RECORD)
    assert (code, level) == (Code.BEAM_SENSOR_SLOW, Level.INFO)
    assert "last 5 ms, none less" in text
    assert "one-shot" in text


def test_pulses_that_no_part_can_make_are_stretched(pulse_row):
    pulses = pulse_row([(50 * k, 50 * k + 20) for k in range(20)])
    ((code, level, text),) = found(pulses, RECORD, expected_ns=5.0 * MS)
    assert (code, level) == (Code.BEAM_SENSOR_SLOW, Level.DOUBT)
    assert "a part should last 5 ms" in text
    assert found(pulses, RECORD, expected_ns=20.0 * MS) == []


def test_chatter_that_was_not_taken_out(pulse_row):
    """A pulse of 0.2 ms before every third part."""
    spans = [(25 * k + off, 25 * k + off + d) for k in range(24) for off, d in ((0, 0.2), (1, 5))]
    spans = [span for k, span in enumerate(spans) if k % 2 or k % 6 == 0]
    ((code, level, text),) = found(pulse_row(spans), RECORD)
    assert (code, level) == (Code.BEAM_CHATTERS, Level.DOUBT)
    assert "25 % of the pulses" in text


def test_chatter_that_was_taken_out(pulse_row):
    record = BeamRecord(watched=RECORD.watched, edges=72, spikes=16)
    ((code, level, text),) = found(screws(pulse_row), record)
    assert (code, level) == (Code.BEAM_CHATTERS, Level.INFO)
    assert text == "16 spikes taken out of 72 edges"


def test_flicker_as_long_as_a_part_is_doubted():
    (notice,) = BeamRecord(unsettled=2).notices
    assert (notice.code, notice.level) == (Code.BEAM_CHATTERS, Level.DOUBT)
    assert "2 times" in notice.text
