"""What one part does to the beam, and which pulses begin a part."""

import pytest
from benchmarks.pairing.by_hand import SCREW, WASHER, pulses_at

from viscount.agreement.heads import heads
from viscount.agreement.outline import UNKNOWN, outline
from viscount.values import Mode, Signature


def test_lengths_become_times_at_the_parts_own_speed():
    mode = Mode(chance=1.0, darks=(2.5, 2.5), lights=(5.0,), sigma=0.1)
    own = outline(Signature(unit="mm", modes=(mode,), unseen=0.03), 1500.0)
    (way,) = own.ways
    assert way.darks[0] == pytest.approx((0.0, 1666.7), abs=0.1)
    assert way.darks[1] == pytest.approx((5000.0, 6666.7), abs=0.1)
    assert way.sigma == pytest.approx(66.7, abs=0.1)
    assert own.span_us == pytest.approx(5000.0)
    assert own.several
    assert own.unseen == 0.03


def test_without_signature_or_speed_nothing_is_known():
    assert outline(None, 1000.0) == UNKNOWN
    mm = Signature(unit="mm", modes=(Mode(chance=1.0, darks=(8.0,), lights=(), sigma=0.1),))
    assert not outline(mm, None).known
    assert outline(SCREW, None).usual_us == pytest.approx(5330.0)


def test_heads_leave_out_the_second_dark_of_a_ring():
    # Two rings through the bore, one beside it, and a lone short pulse.
    starts, darks = [0, 5, 8, 13, 16, 40], [1.67, 1.67, 1.67, 1.67, 6.6, 1.0]
    found = heads(pulses_at(starts, darks), outline(WASHER, None))
    assert [pulse.id for pulse in found] == [0, 2, 4, 5]


def test_heads_of_parts_of_one_dark_are_all_pulses():
    pulses = pulses_at([0, 5, 10])
    assert heads(pulses, outline(SCREW, None)) == pulses
