"""What one part does to the beam, and which pulses begin a part."""

import pytest
from benchmarks.pairing.by_hand import SCREW, WASHER, pulses_at

from viscount.agreement.heads import heads, lead_us
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
    assert [part[0].id for part in found] == [0, 2, 4, 5]


def test_heads_of_parts_of_one_dark_are_all_pulses():
    pulses = pulses_at([0, 5, 10])
    assert heads(pulses, outline(SCREW, None)) == [[pulse] for pulse in pulses]


RING = Signature(
    unit="ms",
    modes=(
        Mode(chance=0.7, darks=(1.67, 1.67), lights=(3.33,), sigma=0.05, even=True),
        Mode(chance=0.3, darks=(4.67,), lights=(), sigma=0.3, lead=1.0, lead_sigma=0.02, even=True),
    ),
)


def test_a_way_beside_the_middle_begins_and_ends_later_than_the_head():
    _, beside = outline(RING, None).ways
    assert beside.darks[0] == pytest.approx((1000.0, 5670.0))
    assert (beside.start, beside.whole) == pytest.approx((1000.0, 4670.0))
    assert beside.lead_sigma == pytest.approx(20.0)
    assert outline(RING, None).latest_us == pytest.approx(1000.0)
    # Its middle stays where it is: shorter by 0.4 ms, it begins 0.2 ms later.
    assert beside.lead(4270.0) == pytest.approx(1200.0)


def test_a_pulse_tells_by_its_length_how_much_later_it_begins():
    own = outline(RING, None)
    (short,), through = pulses_at([0.0], 4.27), pulses_at([0.0, 5.0], 1.67)
    assert lead_us(own, [short]) == pytest.approx(1200.0)
    assert lead_us(own, through) == 0.0
    # Two rings merged look like none of its ways.
    assert lead_us(own, pulses_at([0.0], 11.0)) == 0.0
    assert lead_us(outline(SCREW, None), [short]) == 0.0
