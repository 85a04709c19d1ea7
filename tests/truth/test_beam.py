"""The beam alone: inputs that trip programs like this one, and real logs.

The first come from reports of people who do this kind of work, with more of each kind made up.
"""

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from viscount import fall
from viscount.beam.learning import learn_signature
from viscount.beam.pulses import PulseMaker
from viscount.beam.reading import BeamReading, read_pulses
from viscount.beam.record import BeamRecord
from viscount.beam.signature import signature_of
from viscount.codes import Code
from viscount.devices.beams.log import BeamLog
from viscount.outlet import Part
from viscount.values import Edge, Level, Pulse, Signature

WASHER = Part(shape="washer", diameter_mm=10.0, bore_mm=5.0, thickness_mm=1.0)
SCREW_8 = Part(shape="screw", along_fall_mm=8.0)


def pulses_of(edges: Sequence[Edge], end_ns: int | None = None) -> tuple[list[Pulse], BeamRecord]:
    maker = PulseMaker()
    pulses = [pulse for edge in edges for pulse in maker.feed(edge)]
    return pulses + maker.finish(end_ns), maker.record


def edges_of(spans_ms: Sequence[tuple[float, float]]) -> list[Edge]:
    """Return numbered edges of dark stretches, from 10 ms on."""
    times = [t for span in spans_ms for t in span]
    edges = [Edge(device_t_ns=0, blocked=False, seq=0)]
    return edges + [
        Edge(device_t_ns=round((10 + t) * 1e6), blocked=k % 2 == 0, seq=k + 1)
        for k, t in enumerate(times)
    ]


def read(
    spans_ms: Sequence[tuple[float, float]],
    part: Part | None = None,
    speed: float | Sequence[float] = 1500.0,
    *,
    ray: bool | None = None,
) -> BeamReading:
    edges = edges_of(spans_ms)
    pulses, record = pulses_of(edges, edges[-1].device_t_ns + 10**7)
    signature = signature_of(part, ray=ray) if part else None
    return read_pulses(pulses, signature, speed=speed, record=record)


def chords(diameter: float, bore: float, offset: float, at_ms: float, speed: float):
    """Return the dark stretches of a ring that a thin ray passes `offset` mm from its middle."""
    outer = np.sqrt((diameter / 2) ** 2 - offset**2)
    inner = np.sqrt(max((bore / 2) ** 2 - offset**2, 0.0))
    ends = [-outer, -inner, inner, outer] if inner else [-outer, outer]
    ms = [at_ms + (end + diameter / 2) / speed * 1e3 for end in ends]
    return list(zip(ms[::2], ms[1::2], strict=True))


def clean(reading: BeamReading) -> bool:
    return all(notice.level is Level.INFO for notice in reading.notices)


# ---- rings


def washers(offsets: Sequence[float]) -> list[tuple[float, float]]:
    """Washers 10/5 at 1.5 m/s, 8 ms apart."""
    return [s for k, x in enumerate(offsets) for s in chords(10.0, 5.0, x, 8.0 * k, 1500.0)]


@pytest.mark.parametrize("ray", [None, True])
@pytest.mark.parametrize(
    "offsets",
    [
        [0.0] * 10,
        [0.0, 0.0, 3.3072, 0.0, 0.0, 3.3072, 3.3072, 0.0, 0.0, 0.0],  # one dark of 5.0 ms each
        [0.0, 1.0, 2.0, 2.4, 2.6, 3.0, 4.0, 1.5, 0.5, 3.5],
    ],
    ids=["central", "three beside the bore", "anywhere"],
)
def test_ten_washers_with_the_part_known(offsets: list[float], ray: bool | None):
    reading = read(washers(offsets), WASHER, ray=ray)
    assert (reading.parts, reading.low, reading.high) == (10, 10, 10)
    assert clean(reading)


def test_ten_washers_with_nothing_known():
    """The hole is longer than the space between parts: merging gaps, or waiting, does not help."""
    reading = read(washers([0.0] * 10))
    (notice,) = reading.notices
    assert (notice.code, notice.level) == (Code.BEAM_PATTERN_AMBIGUOUS, Level.DOUBT)
    assert notice.text == ("pattern fits 10 (two-break parts) or 20 (single): teach the part")
    assert (reading.low, reading.high) == (10, 20)


def test_washers_whose_space_is_as_long_as_their_hole():
    """Every light lasts 3.33 ms: only the first and the last wall tell which are pairs."""
    spans = [(k * 10.0 + a, k * 10.0 + a + 5 / 3) for k in range(12) for a in (0.0, 5.0)]
    reading = read(spans, WASHER)
    assert (reading.parts, reading.low, reading.high) == (12, 12, 12)
    assert all(len(group.pulses) == 2 for group in reading.groups)


def test_small_rings_among_which_one_pair_touches():
    """M4 washers 9/4.3 at 1.2 m/s; the fifth and sixth touch: 23 breaks."""
    starts = [10.0 * k for k in range(12)]
    starts[5] = starts[4] + 9.0 / 1.2
    spans = [s for at in starts for s in chords(9.0, 4.3, 0.0, at, 1200.0)]
    touching = next(k for k in range(len(spans)) if spans[k][1] > spans[k + 1][0] - 1e-9)
    spans[touching : touching + 2] = [(spans[touching][0], spans[touching + 1][1])]
    assert len(spans) == 23
    part = Part(shape="washer", diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)
    reading = read(spans, part, 1200.0, ray=True)
    assert reading.parts == 12
    assert [group.parts for group in reading.groups if len(group.pulses) == 3] == [2]


# ---- several parts in one break


def screws(darks_ms: Sequence[float], pitch_ms: float = 25.0) -> list[tuple[float, float]]:
    return [(pitch_ms * k, pitch_ms * k + d) for k, d in enumerate(darks_ms)]


def test_two_screws_in_one_break_of_nine():
    """Dark for 5.33 ms each; the fifth follows the fourth by 3.67 ms: one dark of 9.0 ms."""
    spans = screws([8 / 1.5] * 3 + [9.0, 0.0] + [8 / 1.5] * 5)
    del spans[4]
    alone = read(spans)
    assert (alone.parts, len(alone.groups)) == (10, 9)
    assert [k for k, group in enumerate(alone.groups, start=1) if group.parts == 2] == [4]
    (notice,) = alone.notices
    assert (notice.code, notice.level) == (Code.BEAM_PULSES_MERGED, Level.DOUBT)
    assert "9 breaks, 10 parts estimated, 1 flagged" in notice.text
    known = read(spans, SCREW_8)
    assert (known.parts, clean(known)) == (10, True)


def test_a_clump_of_three_and_two_of_two():
    spans = screws([5.33, 5.33, 10.2, 5.3, 5.4, 9.6, 5.33, 15.2, 5.33, 5.33])
    for reading in (read(spans), read(spans, SCREW_8)):
        assert [group.parts for group in reading.groups] == [1, 1, 2, 1, 1, 2, 1, 3, 1, 1]
        assert reading.parts == 14
        assert reading.low <= 14 <= reading.high


def test_a_column_whose_parts_come_faster_and_faster():
    """60 screws stacked 8 mm apart slide out with 2.35 m/s² and fall 40 mm to the beam; two pairs
    come as one."""
    n = np.arange(1, 61)
    lip_s, lip = np.sqrt(2 * n * 8.0 / 2350.0), np.sqrt(2 * 2350.0 * n * 8.0)
    speed = fall.speed_at(lip, fall.STANDARD_GRAVITY_MM_S2, 40.0)
    at_ms = (lip_s + fall.time_to(lip, fall.STANDARD_GRAVITY_MM_S2, 40.0)) * 1e3
    spans = [(t, t + 5.0 / v * 1e3) for t, v in zip(at_ms, speed, strict=True)]
    for k in (45, 20):
        spans[k] = (spans[k][0], spans[k][0] + 1.85 * 5.0 / speed[k] * 1e3)
        del spans[k + 1]
        speed = np.delete(speed, k + 1)
    reading = read(spans, Part(shape="screw", along_fall_mm=5.0), speed.tolist())
    assert (reading.parts, reading.low, reading.high) == (60, 60, 60)
    alone = read(spans)
    assert alone.parts == 60
    assert not clean(alone)


# ---- clocks


def breaks_at(device_us: Sequence[int], first: Edge) -> list[Edge]:
    """Return edges of breaks of 3 ms by a clock of 32 bits."""
    return [first] + [
        Edge(device_t_ns=(t + off) % 2**32 * 1000, blocked=off == 0)
        for t in device_us
        for off in (0, 3000)
    ]


def test_six_breaks_across_a_wrap():
    device_us = [4294951000, 4294959000, 4294967000, 7704, 15704, 23704]
    first = Edge(device_t_ns=4294950000 * 1000, blocked=False)
    pulses, record = pulses_of(breaks_at(device_us, first), 40_000_000)
    assert np.diff([p.start_ns for p in pulses]).tolist() == [8_000_000] * 5
    assert read_pulses(pulses, _ms(3.0), record=record).parts == 6
    assert record.notices == ()


def _ms(dark: float) -> Signature:
    part = [Pulse(id=0, epoch=0, start_ns=0, end_ns=round(dark * 1e6))]
    signature = learn_signature([part] * 5)
    assert signature is not None
    return signature


def test_five_parts_around_a_restart():
    """Counted 41, 42, 43, then a banner, then 1, 2 with the clock near nought."""
    edges = [Edge(device_t_ns=9_000_000_000, blocked=False, seq=80)]
    for first_ms, seq, parts in ((9100, 81, 3), (12, 1, 2)):
        for k in range(parts):
            for off in (0, 5):
                t_ns = (first_ms + 25 * k + off) * 1_000_000
                edges.append(Edge(device_t_ns=t_ns, blocked=off == 0, seq=seq + 2 * k + off // 5))
    pulses, record = pulses_of(edges, 100_000_000)
    reading = read_pulses(pulses, _ms(5.0), record=record)
    assert reading.parts == 5
    assert [n.text for n in record.notices] == ["board restarted, gap not covered"]


def test_a_wrap_in_the_dark_and_one_in_a_pause():
    """The clock wraps while a part is in the beam, and 71.6 minutes later while nothing comes."""
    edges = [Edge(device_t_ns=4_294_960_000_000, blocked=False, seq=0)]
    for seq, (t, blocked) in enumerate(
        [
            (4_294_966_000_000, True),
            (1_704_000, False),
            (2_000_000_000_000, True),
            (2_000_005_000_000, False),
            (4_000_000_000_000, True),
            (4_000_005_000_000, False),
            (1_000_000_000, True),
            (1_005_000_000, False),
        ],
        start=1,
    ):
        edges.append(Edge(device_t_ns=t, blocked=blocked, seq=seq))
    pulses, record = pulses_of(edges, 2_000_000_000)
    assert pulses[0].end_ns - pulses[0].start_ns == 1_704_000 + 2**32 * 1000 - 4_294_966_000_000
    assert (len(pulses), record.wraps, record.restarts) == (4, 2, 0)
    assert record.notices == ()


def test_two_restarts_while_the_clock_goes_on():
    """A clock with a battery: only the boot tells."""
    edges = [
        Edge(device_t_ns=(10 + 25 * k + off) * 1_000_000, blocked=off == 5, boot=k // 2)
        for k in range(6)
        for off in (5, 10)
    ]
    pulses, record = pulses_of([Edge(device_t_ns=0, blocked=False, boot=0), *edges], 10**9)
    assert [p.epoch for p in pulses] == [0, 0, 1, 1, 2, 2]
    assert [n.text for n in record.notices] == ["board restarted 2 times, gap not covered"]


# ---- queues


@pytest.mark.parametrize(
    ("lost", "said", "pulses", "cut"),
    [
        (range(1, 25), "24 edges lost, 12 times unknown", 8, 0),
        (range(10, 21), "11 edges lost, 5 times unknown", 15, 1),
        (range(10, 20), "10 edges lost, 4 times unknown", 16, 2),
    ],
    ids=["first 24 of 40", "from the end of one on", "from the end of one to the start of one"],
)
def test_twenty_parts_and_a_queue_that_overflows(lost: range, said: str, pulses: int, cut: int):
    edges = edges_of(screws([16 / 3] * 20, pitch_ms=8.0))
    kept = [edge for edge in edges if edge.seq not in lost]
    found, record = pulses_of(kept, 10**9)
    (notice,) = record.notices
    assert (notice.level, notice.code) == (Level.DOUBT, Code.BEAM_EDGES_LOST)
    assert notice.text == said
    assert (len(found), sum(p.cut for p in found)) == (pulses, cut)
    for signature in (_ms(16 / 3), None):
        assert read_pulses(found, signature, record=record).parts == 20


# ---- figures from outside


@pytest.mark.parametrize(
    ("first_mm_s", "times_ms"),
    [
        (0.0, [0, 100.981, 142.809, 174.904, 201.962, 225.800, 247.352, 267.171, 285.617]),
        (500.0, [0, 62.137, 100.652, 131.198, 157.313, 180.499, 201.566, 221.006, 239.147]),
    ],
)
def test_a_picket_fence_of_eight_bars(first_mm_s: float, times_ms: list[float]):
    """Bars 5 cm apart, as a maker of teaching apparatus sells it: t = (-v + sqrt(v² + 2 g x)) / g,
    released with the first bar in the beam, or entering it at 0.5 m/s."""
    found = fall.time_to(first_mm_s, fall.STANDARD_GRAVITY_MM_S2, 50.0 * np.arange(9)) * 1e3
    assert found == pytest.approx(times_ms, abs=6e-4)


# ---- real logs


@pytest.mark.footage
@pytest.mark.parametrize(
    ("number", "events"),
    list(enumerate([149, 37, 51, 162, 48, 52, 27, 41, 108, 72, 62], start=1)),
)
def test_logs_of_a_swinging_body(footage: Path, tmp_path: Path, number: int, events: int):
    """Times of breaks alone: each is given a dark of 10 ms, and the whole a header."""
    text = (footage / "photogate-logs" / f"fotocellula_{number}.txt").read_text("utf-8")
    times = [int(s) * 10**6 + int(us) for s, us in re.findall(r"^(\d+)\.(\d{6})\s", text, re.M)]
    rows = [(t + 10**6, 1) for t in times] + [(t + 10**6 + 10_000, 0) for t in times]
    lines = [f"{t // 10**6}.{t % 10**6:06d},{blocked}" for t, blocked in sorted(rows)]
    file = tmp_path / "beam.csv"
    file.write_text("\n".join(["time_s,blocked", "0.000000,0", *lines, ""]), encoding="utf-8")
    pulses, record = pulses_of(list(BeamLog(file).edges()))
    assert len(pulses) == events
    assert [n.code for n in record.notices] == [Code.BEAM_END_UNKNOWN]
    intervals = np.diff([p.start_ns for p in pulses]) * 1e-9
    wide = intervals[intervals > 1.8 * np.median(intervals)]
    # The fifth has one gap, in which about four breaks are missing.
    assert wide == (pytest.approx([6.92], abs=0.005) if number == 5 else pytest.approx([]))
    if number == 5:
        assert round(wide[0] / np.median(intervals)) - 1 == pytest.approx(4, abs=0)


@pytest.mark.footage
def test_a_real_picket_fence(footage: Path, tmp_path: Path):
    """Eight bars through one gate: the fall's law gives v0 = 0.509 m/s and g = 9.82 m/s²."""
    text = (footage / "photogate-logs" / "picket_fence_studymode.csv").read_text("utf-8")
    rows = re.findall(r"^(\d+),([\d.]+),([\d.]+)$", text, re.M)
    times = [float(t) for _, _, t in rows]
    lines = [f"{t + off:.4f},{int(off == 1.0)}" for t in times for off in (1.0, 1.004)]
    file = tmp_path / "beam.csv"
    file.write_text("\n".join(["time_s,blocked", "0.5000,0", *lines, ""]), encoding="utf-8")
    log = BeamLog(file)
    pulses, _ = pulses_of(list(log.edges()))
    assert len(pulses) == len(rows) == 8
    assert [(n.code, n.level) for n in log.notices] == [(Code.BEAM_TIMES_COARSE, Level.INFO)]
    at_s = np.array([p.start_ns - pulses[0].start_ns for p in pulses]) * 1e-9
    assert at_s == pytest.approx(times, abs=1e-9)
    place_mm = np.array([float(x) * 1e3 for _, x, _ in rows])
    (v0, g), _ = curve_fit(
        lambda t, v, a: fall.place_after(0.0, v, a, t)[0], at_s, place_mm, p0=(500.0, 9800.0)
    )
    assert v0 == pytest.approx(509, abs=1)
    assert g == pytest.approx(9820, abs=10)
