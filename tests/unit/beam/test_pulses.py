"""The pulse machine: edges in, pulses out."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.beam.pulses import DEFAULT_MIN_PULSE_NS, PulseMaker
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.values import Edge, Level, Pulse, Unwatched

MS = 1_000_000


def made(edges: list[Edge], end_ns: int | None = None, **options: int):
    """Return the pulses and the record."""
    maker = PulseMaker(**options)
    pulses = [pulse for edge in edges for pulse in maker.feed(edge)]
    return pulses + maker.finish(end_ns), maker.record


def spans_us(pulses: list[Pulse]) -> list[tuple[int, int]]:
    return [(p.start_ns // 1000, p.end_ns // 1000) for p in pulses]


@st.composite
def chattering(draw: st.DrawFn) -> tuple[list[int], list[int], int]:
    """Clean edge times, the same with chatter behind some of them, and how many spikes that is."""
    clean, raw, spikes, t = [], [], 0, 0
    for _ in range(2 * draw(st.integers(1, 8))):
        t += draw(st.integers(300, 5000))
        clean.append(t)
        bounces = draw(st.integers(0, 3))
        steps = draw(st.lists(st.integers(0, 30), min_size=2 * bounces, max_size=2 * bounces))
        raw.append(t)
        for step in steps:
            raw.append(raw[-1] + step)
        spikes += bounces
    return clean, raw, spikes


@given(chattering(), st.integers(0, 2**32 - 1), st.booleans())
def test_chatter_takes_nothing_from_the_pulses(
    case: tuple[list[int], list[int], int], offset_us: int, numbered: bool
):
    """Wherever the board's 32-bit clock begins: pulses lie as those of the clean edges."""
    clean, raw, spikes = case
    edges = [
        Edge(
            device_t_ns=(offset_us + t) % 2**32 * 1000,
            blocked=k % 2 == 1,
            seq=k if numbered else None,
        )
        for k, t in enumerate([0, *raw])
    ]
    end_us = raw[-1] + 1000
    pulses, record = made(edges, (offset_us + end_us) % 2**32 * 1000)
    shifted = [t + offset_us for t in clean]
    assert spans_us(pulses) == list(zip(shifted[::2], shifted[1::2], strict=True))
    assert [p.id for p in pulses] == list(range(len(pulses)))
    assert (record.spikes, record.edges, record.pulses) == (spikes, len(raw), len(pulses))
    assert record.unsettled == record.lost_edges == record.restarts == 0
    assert record.watched[0].end_ns == (offset_us + end_us) * 1000
    assert record.notices == ()


@given(chattering())
def test_pulses_come_out_as_soon_as_they_are_sure(case: tuple[list[int], list[int], int]):
    """When an edge is fed, all pulses are out whose end has settled before it."""
    _, raw, _ = case
    maker, out = PulseMaker(), 0
    maker.feed(Edge(device_t_ns=0, blocked=False))
    for k, t in enumerate(raw):
        before = raw[k - 1] if k else 0
        out += len(maker.feed(Edge(device_t_ns=t * 1000, blocked=k % 2 == 0)))
        if (t - before) * 1000 >= DEFAULT_MIN_PULSE_NS and k % 2 == 0:
            assert out == maker.record.pulses
            settled = PulseMaker()
            settled.feed(Edge(device_t_ns=0, blocked=False))
            so_far = sum(
                len(settled.feed(Edge(device_t_ns=u * 1000, blocked=j % 2 == 0)))
                for j, u in enumerate(raw[:k])
            )
            assert out == so_far + len(settled.finish())


@given(chattering(), st.integers(0, 2**32 - 1), st.data())
def test_hearing_that_nothing_came_only_brings_pulses_sooner(
    case: tuple[list[int], list[int], int], offset_us: int, data: st.DataObject
):
    """Told now and then up to when no edge came: the same pulses, each out once it is settled."""
    _, raw, _ = case
    edges = [
        Edge(device_t_ns=(offset_us + t) % 2**32 * 1000, blocked=k % 2 == 1, seq=k)
        for k, t in enumerate([0, *raw])
    ]
    end_us = raw[-1] + 1000
    plain, record = made(edges, (offset_us + end_us) % 2**32 * 1000)
    maker, pulses = PulseMaker(), []
    for k, edge in enumerate(edges):
        pulses += maker.feed(edge)
        until = raw[k] if k < len(raw) else end_us
        quiet_us = data.draw(st.integers([0, *raw][k], until))
        pulses += maker.quiet_until((offset_us + quiet_us) % 2**32 * 1000)
    assert pulses + maker.quiet_until((offset_us + end_us) % 2**32 * 1000) == plain
    assert maker.finish((offset_us + end_us) % 2**32 * 1000) == []
    assert maker.record == record
    assert maker.quiet_until(end_us * 1000) == []


def test_nothing_at_all():
    pulses, record = made([])
    assert (pulses, record) == ([], BeamRecord())


def test_a_beam_that_never_changes(edge_row):
    pulses, record = made(edge_row([]), 5 * MS)
    assert pulses == []
    assert (record.edges, record.watched[0].end_ns, record.notices) == (0, 5 * MS, ())


def test_edges_that_arrive_twice_count_once(edge_row):
    edges = edge_row([10_000, 15_000, 30_000, 35_000])
    twice = [edge for edge in edges for _ in range(2)]
    pulses, record = made(twice, 50 * MS)
    assert spans_us(pulses) == [(10_000, 15_000), (30_000, 35_000)]
    assert (record.edges, record.repeats, record.lost_edges) == (4, 5, 0)


def test_a_queue_that_kept_the_newest_sixteen_of_forty_edges(edge_row):
    """Numbers 25 to 40 come behind the first state: eight pulses, and twelve known by number."""
    times = [8_000 * k + off for k in range(1, 21) for off in (0, 5_333)]
    edges = edge_row(times)
    pulses, record = made([edges[0], *edges[25:]], 200 * MS)
    assert len(pulses) == 8
    assert record.pulses_lost == 12
    assert len(pulses) + record.pulses_lost == 20
    assert record.unwatched == (
        Unwatched(epoch=0, start_ns=0, end_ns=104 * MS, edges_lost=24, pulses_lost=12),
    )
    (notice,) = record.notices
    assert (notice.code, notice.level) == (Code.BEAM_EDGES_LOST, Level.DOUBT)
    assert notice.text == "24 edges lost, 12 times unknown"


# Ten pulses: dark from 10 k to 10 k + 5 ms, edges numbered 1 to 20.
TEN = [1000 * (10 * k + off) for k in range(1, 11) for off in (0, 5)]


@pytest.mark.parametrize(
    ("lost", "pulses_lost", "cut"),
    [
        (range(5, 7), 1, []),  # both edges of the third pulse
        (range(5, 6), 0, [(35, 35)]),  # its start
        (range(6, 7), 0, [(30, 30)]),  # its end
        (range(6, 8), 0, [(30, 30), (45, 45)]),  # its end and the next one's start
        (range(6, 12), 2, [(30, 30), (65, 65)]),
        (range(6, 13), 3, [(30, 30)]),
        (range(5, 12), 3, [(65, 65)]),
    ],
)
def test_edges_lost_by_number(edge_row, lost: range, pulses_lost: int, cut: list):
    edges = [edge for edge in edge_row(TEN) if edge.seq not in lost]
    pulses, record = made(edges, 200 * MS)
    assert len(pulses) + record.pulses_lost == 10
    assert record.pulses_lost == pulses_lost
    assert record.lost_edges == len(lost)
    broken = [p for p in pulses if p.cut]
    assert [(p.start_ns // MS, p.end_ns // MS) for p in broken] == cut
    assert all(p.lost_edges == 1 for p in broken)
    (gap,) = record.unwatched
    assert gap.edges_lost == len(lost)
    before, after = TEN[lost[0] - 2], TEN[lost[-1]]
    assert (gap.start_ns, gap.end_ns) == (before * 1000, after * 1000)


@given(st.sets(st.integers(1, 20), max_size=19))
def test_numbers_tell_of_every_interruption(lost: set[int]):
    """Whatever is lost between the first state and the last edge, no interruption is."""
    edges = [
        Edge(device_t_ns=t * 1000, blocked=k % 2 == 1, seq=k)
        for k, t in enumerate([0, *TEN])
        if k not in lost
    ]
    last = edges[-1].seq
    assert last is not None
    pulses, record = made(edges, 300 * MS)
    assert len(pulses) + record.pulses_lost == (last + 1) // 2
    assert record.lost_edges == last + 1 - len(edges)
    starts = [p.start_ns for p in pulses]
    assert starts == sorted(starts)


def test_two_equal_edges_without_numbers(edge_row):
    """At least one is lost; nobody knows how many more."""
    edges = edge_row(TEN, numbered=False)
    del edges[6]  # the end of the third pulse
    pulses, record = made(edges, 200 * MS)
    assert len(pulses) == 10
    assert [p.id for p in pulses if p.lost_edges] == [2]
    assert (record.lost_edges, record.unwatched[0].edges_lost) == (1, None)
    assert "at least 1 edge lost" in record.notices[0].text


def test_numbers_that_contradict_the_levels():
    """Number 3 follows a dark 1, so that it should be dark again, and says light."""
    edges = [
        Edge(device_t_ns=k * MS, blocked=blocked, seq=seq)
        for k, (blocked, seq) in enumerate([(False, 0), (True, 1), (False, 3), (True, 4)])
    ]
    pulses, record = made(edges, 10 * MS)
    assert record.unwatched[0].edges_lost is None
    assert record.unwatched[0].pulses_lost is None
    assert len(pulses) == 3


def test_a_clock_of_32_bits_that_wraps_in_mid_stream():
    """Six breaks 8000 us apart across 2**32 us."""
    device_us = [4294951000, 4294959000, 4294967000, 7704, 15704, 23704]
    edges = [Edge(device_t_ns=(device_us[0] - 5000) * 1000, blocked=False)]
    for t in device_us:
        edges += [Edge(device_t_ns=(t + off) % 2**32 * 1000, blocked=off == 0) for off in (0, 3000)]
    pulses, record = made(edges, 30_000_000)
    gaps = [b.start_ns - a.start_ns for a, b in pairwise(pulses)]
    assert gaps == [8 * MS] * 5
    assert (record.wraps, record.restarts, record.notices) == (1, 0, ())
    assert {p.epoch for p in pulses} == {0}


@pytest.mark.parametrize("booted", [True, False])
@pytest.mark.parametrize("numbered", [True, False])
def test_a_board_that_restarts(booted: bool, numbered: bool):
    """Three parts, then the clock near nought again, and two more."""
    edges = [Edge(device_t_ns=0, blocked=False, seq=0 if numbered else None)]
    for boot, first_ms, parts in ((0, 500, 3), (1, 20, 2)):
        edges += [
            Edge(
                device_t_ns=(first_ms + 25 * k + off) * MS,
                blocked=off == 0,
                seq=2 * k + 1 + (off > 0) if numbered else None,
                boot=boot if booted else None,
            )
            for k in range(parts)
            for off in (0, 5)
        ]
    if booted:
        edges[0] = Edge(device_t_ns=0, blocked=False, seq=edges[0].seq, boot=0)
    pulses, record = made(edges, 100 * MS)
    assert [p.epoch for p in pulses] == [0, 0, 0, 1, 1]
    assert not any(p.cut for p in pulses)
    assert [(w.epoch, w.start_ns // MS, w.end_ns // MS) for w in record.watched] == [
        (0, 0, 555),
        (1, 20, 100),
    ]
    (gap,) = record.unwatched
    assert (gap.epoch, gap.start_ns, gap.end_ns) == (0, 555 * MS, 555 * MS)
    assert gap.edges_lost is None
    (notice,) = record.notices
    assert (notice.code, notice.level) == (Code.BEAM_RESTARTED, Level.DOUBT)
    assert notice.text == "board restarted, gap not covered"


def test_a_restart_in_the_dark_cuts_pulses_on_both_sides():
    edges = [
        Edge(device_t_ns=t * MS, blocked=blocked, seq=seq, boot=boot)
        for t, blocked, seq, boot in [(0, False, 0, 0), (10, True, 1, 0), (3, False, 1, 1)]
    ]
    pulses, record = made(edges, 10 * MS)
    assert [(p.epoch, p.start_ns // MS, p.end_ns // MS, p.cut) for p in pulses] == [
        (0, 10, 10, True),
        (1, 3, 3, True),
    ]
    assert record.restarts == 1


@pytest.mark.parametrize(
    ("seq", "blocked", "pulses_lost"), [(5, True, 2), (4, False, 1), (4, True, 1)]
)
def test_numbers_tell_what_was_lost_since_a_restart(seq: int, blocked: bool, pulses_lost: int):
    edges = [
        Edge(device_t_ns=100 * MS, blocked=False, seq=0, boot=0),
        Edge(device_t_ns=20 * MS, blocked=blocked, seq=seq, boot=1),
    ]
    _, record = made(edges, 50 * MS)
    assert record.pulses_lost == pulses_lost
    assert record.lost_edges == seq - 1
    assert (record.unwatched[1].start_ns, record.unwatched[1].end_ns) == (0, 20 * MS)


def test_a_row_with_number_nought_is_the_state_behind_a_restart():
    edges = [
        Edge(device_t_ns=t * MS, blocked=blocked, seq=seq, boot=boot)
        for t, blocked, seq, boot in [
            (100, False, 0, 0),
            (0, False, 0, 1),
            (20, True, 1, 1),
            (25, False, 2, 1),
        ]
    ]
    pulses, record = made(edges, 50 * MS)
    assert [(p.epoch, p.start_ns // MS, p.cut) for p in pulses] == [(1, 20, False)]
    assert record.watched[1].start_ns == 0


def test_a_width_below_nought_is_refused():
    with pytest.raises(ValueError, match="min_pulse_ns"):
        PulseMaker(min_pulse_ns=-1)


def test_finishing_twice_gives_nothing_more(edge_row):
    maker = PulseMaker()
    for edge in edge_row([10_000]):
        maker.feed(edge)
    assert len(maker.finish(20 * MS)) == 1
    assert maker.finish(30 * MS) == []
    assert maker.record.watched[0].end_ns == 20 * MS
    assert maker.record.blocked_last
