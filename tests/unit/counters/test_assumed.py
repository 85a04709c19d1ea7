"""What is taken for granted of a beam, and what the pour itself teaches and says of it."""

import pytest
from counting import outlet
from tallies import SET_UP, pairing, passage, pulse

from viscount.agreement.arrival import Arrival
from viscount.codes import Code
from viscount.counters.assumed import beam_assumptions
from viscount.counters.beam_place import beam_place
from viscount.counters.speeds import speeds_at_pulses, stated_speed_px_s
from viscount.counters.teaching import FEWEST, by_length, near_to, taught_signature
from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.values import Mode, Pairs, Signature


def assumed(*, learned: bool = False, **beam: float) -> dict[Code, object]:
    made = outlet(beam=beam) if beam else outlet()
    place = beam_place(made, SET_UP, ())
    return {one.code: one.value for one in beam_assumptions(made, place, learned=learned)}


def test_a_beam_of_which_nothing_is_said():
    assert assumed() == {
        Code.BEAM_HEIGHT_UNKNOWN: None,
        Code.BEAM_WIDTH_ASSUMED: None,
        Code.BEAM_LEAST_ASSUMED: 100.0,
    }


def test_a_beam_of_which_all_is_said():
    assert assumed(at_px=120.0, width_mm=1.0, min_pulse_us=150.0, learned=True) == {
        Code.BEAM_HEIGHT_ASSUMED: 1.0,
        Code.BEAM_THRESHOLD_ASSUMED: 0.5,
        Code.BEAM_PART_LEARNED: None,
    }


def test_the_uncertainty_of_a_height_has_the_unit_it_was_stated_in():
    for beam, unit in (({"at_px": 120.0}, "px"), ({"below_lip_mm": 20.0}, "mm")):
        made = outlet(view={"lip_px": 0.0}, beam=beam)
        place = beam_place(made, SET_UP, ())
        first = beam_assumptions(made, place, learned=False)[0]
        assert (first.code, first.unit) == (Code.BEAM_HEIGHT_ASSUMED, unit)


@pytest.mark.parametrize(
    ("motion", "beam", "speed_mm_s"),
    [
        ({"kind": "belt", "speed_mm_s": 1500.0}, {"at_px": 120.0}, 1500.0),
        (
            {"kind": "free_fall", "speed_mm_s": 300.0},
            {"below_lip_mm": 60.0},
            (300.0**2 + 2 * STANDARD_GRAVITY_MM_S2 * 60.0) ** 0.5,
        ),
        (
            {"kind": "slide", "speed_mm_s": 300.0, "acceleration_mm_s2": 5000.0},
            {"at_px": 200.0},
            (300.0**2 + 2 * 5000.0 * 50.0) ** 0.5,
        ),
        ({"kind": "slide", "speed_mm_s": 300.0}, {"at_px": 200.0}, None),
        ({"kind": "free_fall"}, {"at_px": 200.0}, None),
    ],
)
def test_the_speed_at_the_beam_by_the_outlet_file_alone(
    motion: dict[str, object], beam: dict[str, float], speed_mm_s: float | None
):
    made = outlet(view={"lip_px": 0.0, "scale_px_per_mm": 4.0}, motion=motion, beam=beam)
    found = stated_speed_px_s(made, beam_place(made, SET_UP, ()))
    assert found == (None if speed_mm_s is None else pytest.approx(4.0 * speed_mm_s))


def arrival(number: int, t_s: float, speed: float | None = 1500.0) -> Arrival:
    return Arrival(passage=passage(number, t_s).passage, speed=speed)


def test_each_pulse_has_the_speed_of_the_nearest_arrival():
    some = [pulse(k, t).pulse for k, t in enumerate((0.5, 0.6, 9.0))]
    near = [arrival(1, 0.61, 1700.0), arrival(0, 0.5, 1500.0)]
    at = {0: 500_000_000, 1: 600_000_000}
    assert speeds_at_pulses(some, near, at, None) == [1500.0, 1700.0, 1600.0]
    assert speeds_at_pulses(some, [], at, 1400.0) == [1400.0] * 3
    assert speeds_at_pulses(some, [arrival(0, 0.5, None)], at, None) is None


def taught(count: int, **changes: object):
    pairings = [
        pairing(Pairs.AGREED, 0.1 * k, passages=(k,), pulses=(k,), **changes).pairing
        for k in range(count)
    ]
    arrivals = [arrival(k, 0.1 * k) for k in range(count)]
    pulses = [pulse(k, 0.1 * k, 0.006).pulse for k in range(count)]
    return taught_signature(pairings, arrivals, pulses, unit="mm")


def test_parts_that_passed_alone_teach_their_length():
    found = taught(FEWEST)
    assert found.unit == "mm"
    # 6 ms at 1500 mm/s.
    assert found.modes[0].darks == (pytest.approx(9.0),)


def test_too_few_or_unsure_ones_teach_nothing():
    assert taught(FEWEST - 1) is None
    assert taught(20, doubt=0.2) is None
    assert taught(20, parts=2) is None


def tumbling(excess_mm: float, *, long_mm: float | None = None, pairs: bool = False):
    """Parts of many lengths at 1500 mm/s, each dark for its own length and so much more."""
    lengths = [8.0 + 0.5 * k for k in range(12)]
    if long_mm is not None:
        lengths.append(long_mm)
    pairings, arrivals, pulses = [], [], []
    for k, length in enumerate(lengths):
        pairings.append(pairing(Pairs.AGREED, 0.1 * k, passages=(k,), pulses=(k,)).pairing)
        seen = passage(k, 0.1 * k, length_px=4.0 * (length / 1.6 if pairs else length)).passage
        arrivals.append(Arrival(passage=seen, speed=1500.0))
        pulses.append(pulse(k, 0.1 * k, (length + excess_mm) / 1500.0).pulse)
    return by_length(pairings, arrivals, pulses, unit="mm", unit_px=4.0), arrivals


def test_pulses_follow_the_lengths_of_parts_that_tumble():
    found, _ = tumbling(0.4)
    (mode,) = found.signature.modes
    for k, arrival in enumerate(found.arrivals):
        # The outline at the speed that stands for the length is the pulse itself.
        assert mode.darks[0] / arrival.speed == pytest.approx((8.0 + 0.5 * k + 0.4) / 1500.0)


def test_a_passage_far_longer_than_the_rest_counts_as_of_usual_length():
    found, _ = tumbling(0.0, long_mm=24.0)
    assert found.arrivals[-1].speed == pytest.approx(1500.0)
    assert found.arrivals[0].speed > 1500.0


def test_pulses_much_longer_than_the_picture_teach_nothing():
    assert tumbling(0.0, pairs=True)[0] is None
    assert tumbling(4.0)[0] is None


def test_what_was_taught_must_be_near_to_what_sizes_give():
    def of(*lengths: float) -> Signature:
        modes = tuple(Mode(chance=0.5, darks=(x,), lights=(), sigma=0.2) for x in lengths)
        return Signature(unit="mm", modes=modes)

    assert near_to(of(8.4), of(8.0, 16.0))
    assert near_to(of(8.4, 15.0), of(8.0, 16.0))
    assert not near_to(of(12.0), of(8.0, 16.0))
    assert not near_to(of(8.4, 12.0), of(8.0, 16.0))
