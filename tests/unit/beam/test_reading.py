"""How many parts pulses are, by what one part looks like."""

import numpy as np
import pytest

from viscount.barrier import BeamLaw
from viscount.beam.reading import BeamReading, read_pulses
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.values import Level, Mode, Pulse, Signature, Status, Unwatched

SCREW = Signature(unit="ms", modes=(Mode(chance=1.0, darks=(5.0,), lights=(), sigma=0.15),))
RING = Signature(
    unit="ms",
    modes=(
        Mode(chance=0.7, darks=(1.67, 1.67), lights=(3.33,), sigma=0.1),
        Mode(chance=0.3, darks=(5.0,), lights=(), sigma=0.3),
    ),
)


def codes(reading: BeamReading, level: Level = Level.DOUBT) -> list[Code]:
    return [notice.code for notice in reading.notices if notice.level is level]


def status(reading: BeamReading) -> Status:
    return Status.DOUBTFUL if codes(reading) else Status.CLEAN


def test_every_pulse_is_in_one_group(pulse_row):
    spans = [(8 * k, 8 * k + d) for k, d in enumerate([1.67, 5.0, 1.67, 9.0, 0.2] * 20)]
    pulses = pulse_row(spans, first_id=7)
    for signature in (SCREW, RING, None):
        reading = read_pulses(pulses, signature)
        ids = [k for group in reading.groups for k in group.pulses]
        assert ids == [p.id for p in pulses]
        assert reading.low <= reading.parts <= reading.high
        assert all(0 <= group.doubt <= 1 for group in reading.groups)


def test_nothing(pulse_row):
    for signature in (SCREW, None):
        reading = read_pulses([], signature)
        assert (reading.parts, reading.low, reading.high) == (0, 0, 0)
        assert (reading.groups, reading.notices) == ((), ())


@pytest.mark.parametrize(
    ("dark", "parts", "clean"),
    [
        (5.0, 1, True),
        (4.7, 1, True),
        (5.3, 1, True),
        (9.6, 2, True),
        (14.6, 3, False),  # so long could be four that overlap
        (2.5, 1, False),  # no such part, maybe none
        (0.15, 0, False),
    ],
)
def test_one_odd_pulse_among_twenty(pulse_row, dark: float, parts: int, clean: bool):
    darks = [5.0] * 10 + [dark] + [5.0] * 9
    pulses = pulse_row([(30 * k, 30 * k + d) for k, d in enumerate(darks)])
    reading = read_pulses(pulses, SCREW)
    assert reading.groups[10].parts == parts
    assert reading.parts == 19 + parts
    assert (status(reading) is Status.CLEAN) is clean
    assert (Code.BEAM_PULSES_MERGED in codes(reading, Level.INFO)) is (parts > 1)
    assert all(group.doubt < 1e-3 for k, group in enumerate(reading.groups) if k != 10)


def test_lengths_that_fit_two_numbers_say_so(pulse_row):
    """Parts of 4 to 9 mm: 15.5 mm may be two long ones, or three that overlap."""
    wide = Signature(
        unit="mm",
        modes=tuple(Mode(chance=1 / 6, darks=(d,), lights=(), sigma=0.5) for d in range(4, 10)),
    )
    lengths = [4, 5, 6, 7, 8, 9, 15.5]
    pulses = pulse_row([(40 * k, 40 * k + mm / 1.5) for k, mm in enumerate(lengths)])
    reading = read_pulses(pulses, wide, speed=1500.0)
    last = reading.groups[-1]
    assert (last.parts, last.instead) == (2, 3)
    assert last.doubt > 0.05
    assert (reading.parts, reading.high) == (8, 9)
    (notice,) = (n for n in reading.notices if n.code is Code.BEAM_COUNT_UNSURE)
    assert "0.24 s (2, or 3)" in notice.text


def test_washers_that_touch_are_told_apart(pulse_row):
    """The second's first wall follows the first's last without a gap: three pulses, two washers."""
    pulses = pulse_row([(0, 1.67), (5.0, 8.34), (11.67, 13.34), (40, 41.67), (45, 46.67), (80, 85)])
    reading = read_pulses(pulses, RING)
    assert [(group.pulses, group.parts) for group in reading.groups] == [
        ((0, 1, 2), 2),
        ((3, 4), 1),
        ((5,), 1),
    ]
    assert reading.low == reading.high == 4


def test_a_known_unresolved_gap_makes_long_pulses_likely(pulse_row):
    """Two parts of 5 ms, 1 ms apart, in a beam that does not resolve 1 ms."""
    pulses = pulse_row([(0, 5), (30, 41), (60, 65), (90, 95)])
    known = read_pulses(pulses, SCREW, unresolved=1.0)
    unknown = read_pulses(pulses, SCREW)
    assert known.parts == unknown.parts == 5
    assert known.groups[1].doubt < unknown.groups[1].doubt
    assert BeamLaw(width=2.0).least_clear(1000.0) == 1.0


def test_doubts_are_chances():
    """Streams drawn by the model itself: of pulses with doubt d about the share d is wrong."""
    rng = np.random.default_rng(6)
    # Two lengths so near that one part of one is often like two overlapping of the other.
    near = Signature(
        unit="ms",
        modes=(
            Mode(chance=0.8, darks=(5.0,), lights=(), sigma=0.4),
            Mode(chance=0.2, darks=(9.0,), lights=(), sigma=0.7),
        ),
    )
    doubts, wrong = [], []
    for k in range(2500):
        parts = 2 if rng.random() < 0.02 / 1.02 else 1
        first, second = (
            rng.normal(5.0, 0.4) if rng.random() < 0.8 else rng.normal(9.0, 0.7) for _ in "ab"
        )
        overlap = min(first, second) * (1 - np.sqrt(rng.random()))
        dark = first if parts == 1 else first + second - overlap
        pulse = Pulse(id=k, epoch=0, start_ns=0, end_ns=round(dark * 1e6))
        group = read_pulses([pulse], near).groups[0]
        doubts.append(group.doubt)
        wrong.append(group.parts != parts)
    assert np.mean(wrong) == pytest.approx(np.mean(doubts), abs=0.006)
    unsure = np.array(doubts) > 0.05
    assert np.mean(np.array(wrong)[unsure]) == pytest.approx(
        np.mean(np.array(doubts)[unsure]), abs=0.1
    )


def test_a_gap_parts_what_stands_on_both_sides(pulse_row):
    """Two walls a bore apart are one washer, unless edges are missing between them."""
    pulses = pulse_row([(0, 1.67), (5.0, 6.67)])
    assert read_pulses(pulses, RING).parts == 1
    gap = Unwatched(epoch=0, start_ns=1_670_000, end_ns=5_000_000, edges_lost=2, pulses_lost=1)
    reading = read_pulses(pulses, RING, record=BeamRecord(unwatched=(gap,)))
    assert [group.pulses for group in reading.groups] == [(0,), (1,)]
    # One more interruption is known by number alone; washers give 1.7 of them each.
    assert reading.parts == 2 + 1


def test_interruptions_known_by_number_count(pulse_row):
    gap = Unwatched(epoch=0, start_ns=0, end_ns=1, edges_lost=24, pulses_lost=12)
    pulses = pulse_row([(8 * k, 8 * k + 5) for k in range(1, 9)])
    record = BeamRecord(unwatched=(gap,))
    assert read_pulses(pulses, SCREW, record=record).parts == 20
    assert read_pulses(pulses, record=record).parts == 20
    reading = read_pulses(pulses, RING, record=record)
    assert reading.parts == 8 + round(12 / 1.7)
    assert reading.low < reading.parts < reading.high


def test_cut_pulses_are_parts_with_a_doubt(pulse_row):
    pulses = pulse_row([(0, 2), (30, 35), (60, 65)])
    pulses[0] = Pulse(id=0, epoch=0, start_ns=0, end_ns=2_000_000, cut=True)
    reading = read_pulses(pulses, SCREW)
    assert [group.parts for group in reading.groups] == [1, 1, 1]
    assert reading.groups[0].doubt == pytest.approx(0.1)
    assert reading.groups[1].doubt < 1e-3
    assert (reading.low, reading.high) == (2, 4)


def test_speeds_may_differ_from_pulse_to_pulse(pulse_row):
    speeds = np.linspace(800.0, 2000.0, 30)
    darks = 8.0 / speeds * 1e3
    darks[20] *= 1.9
    pulses = pulse_row([(30 * k, 30 * k + d) for k, d in enumerate(darks)])
    signature = Signature(unit="mm", modes=(Mode(chance=1.0, darks=(8.0,), lights=(), sigma=0.3),))
    reading = read_pulses(pulses, signature, speed=speeds.tolist())
    assert [k for k, g in enumerate(reading.groups) if g.parts == 2] == [20]
    assert reading.parts == 31


def test_other_epochs_are_other_rows(pulse_row):
    first = pulse_row([(0, 1.67)])[0]
    second = Pulse(id=1, epoch=1, start_ns=5_000_000, end_ns=6_670_000)
    assert len(read_pulses([first, second], RING).groups) == 2


@pytest.mark.parametrize("pitch_ms", [8.0, 10.0, 30.0])
def test_a_row_of_thousands(pulse_row, pitch_ms: float):
    """The bore's light is longer than that between the washers, as long, and shorter."""
    spans = [(pitch_ms * k + a, pitch_ms * k + a + 1.67) for k in range(1000) for a in (0.0, 5.0)]
    reading = read_pulses(pulse_row(spans), RING)
    assert {len(group.pulses) for group in reading.groups} == {2}
    assert reading.parts == 1000
    assert reading.low <= 1000 <= reading.high <= 1003


# ---- without a signature: what the pulses tell of themselves


def test_the_usual_pulse_is_one_part(pulse_row):
    rng = np.random.default_rng(7)
    darks = 5.0 * (1 + 0.01 * rng.standard_normal(20))
    reading = read_pulses(pulse_row([(25 * k, 25 * k + d) for k, d in enumerate(darks)]))
    assert (reading.parts, reading.low, reading.high) == (20, 20, 20)
    assert reading.learned
    assert status(reading) is Status.CLEAN


def test_a_pour_that_speeds_up_has_a_usual_pulse(pulse_row):
    """Dark for 12 ms at first and 5 ms at last; one break is of two parts."""
    darks = 16.0 / np.sqrt(np.linspace(1.3**2, 3.2**2, 30))
    spans = [(40 * k, 40 * k + d * (1.8 if k == 17 else 1.0)) for k, d in enumerate(darks)]
    reading = read_pulses(pulse_row(spans))
    assert reading.parts == 31
    assert [k for k, group in enumerate(reading.groups) if group.parts == 2] == [17]
    assert codes(reading) == [Code.BEAM_PULSES_MERGED]


@pytest.mark.parametrize("count", [1, 2])
def test_a_pulse_or_two_tell_nothing_of_themselves(pulse_row, count: int):
    reading = read_pulses(pulse_row([(25 * k, 25 * k + 5) for k in range(count)]))
    assert reading.parts == count
    assert codes(reading) == [Code.BEAM_PATTERN_AMBIGUOUS]
    assert "too few" in reading.notices[0].text


def test_pulses_of_any_length_tell_nothing_of_themselves(pulse_row):
    darks = np.random.default_rng(8).uniform(2.0, 9.0, 30)
    reading = read_pulses(pulse_row([(25 * k, 25 * k + d) for k, d in enumerate(darks)]))
    assert codes(reading) == [Code.BEAM_PATTERN_AMBIGUOUS]
    assert "no usual length" in reading.notices[0].text
    assert (reading.low, reading.high) == (15, 60)


def test_lengths_without_a_speed_tell_nothing(pulse_row):
    """A signature in mm, and nobody knows the speed: the pulses speak for themselves."""
    mm = Signature(unit="mm", modes=(Mode(chance=1.0, darks=(8.0,), lights=(), sigma=0.3),))
    pulses = pulse_row([(25 * k, 25 * k + 5) for k in range(10)])
    reading = read_pulses(pulses, mm)
    assert reading.learned
    assert reading.parts == 10
    assert not read_pulses(pulses, mm, speed=1600.0).learned


@pytest.mark.parametrize("washers", [2, 3, 10, 50])
def test_pairs_of_pulses_may_be_rings(pulse_row, washers: int):
    spans = [(8 * k + off, 8 * k + off + 1.67) for k in range(washers) for off in (0.0, 5.0)]
    reading = read_pulses(pulse_row(spans))
    (notice,) = reading.notices
    assert (notice.code, notice.level) == (Code.BEAM_PATTERN_AMBIGUOUS, Level.DOUBT)
    assert f"fits {washers} (two-break parts) or {2 * washers} (single)" in notice.text
    assert (reading.low, reading.high) == (washers, 2 * washers)
    assert all(group.doubt >= 0.5 for group in reading.groups)


@pytest.mark.parametrize("jitter", [0.0, 0.1, 1.0, 4.0])
@pytest.mark.parametrize("count", [12, 60])
def test_single_parts_are_not_taken_for_rings(pulse_row, jitter: float, count: int):
    rng = np.random.default_rng(9)
    starts = 25.0 * np.arange(count) + jitter * rng.uniform(-1, 1, count)
    darks = 5.0 * (1 + 0.01 * rng.standard_normal(count))
    reading = read_pulses(pulse_row(list(zip(starts, starts + darks, strict=True))))
    assert reading.parts == count
    assert status(reading) is Status.CLEAN
