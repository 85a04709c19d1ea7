"""The clock fit: what it finds, when it says that it cannot tell."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.pairing.by_hand import WASHER, arrivals_at, pulses_at
from benchmarks.pairing.lists import lists
from scipy import stats

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.lamp import in_view
from viscount.agreement.watch import Watch
from viscount.values import LampEvent, Watched

IRREGULAR = np.cumsum([31, 28, 55, 40, 90, 33, 61, 47, 38, 72, 29, 84, 50, 41, 66.0])
REGULAR = 25.0 * np.arange(20)
MIDSTREAM = Watch(
    camera=(-5_000_000, 480_000_000),
    beam=(Watched(epoch=0, start_ns=2_500_000_000, end_ns=2_980_000_000),),
)
"""Clip and log of the regular stream that each begin and end while parts fall."""


def offset_ms(fit, at_ns=0):
    (clock,) = fit.clocks
    return 1e-6 * clock.offset_ns(at_ns)


def test_an_irregular_pour_gives_the_offset():
    fit = fit_clocks(arrivals_at(IRREGULAR), pulses_at(IRREGULAR, offset_s=-7.25))
    assert offset_ms(fit) == pytest.approx(-7250.0, abs=0.05)
    assert not fit.ambiguous
    assert fit.epochs[0].matched == 15


def test_nothing_to_fit():
    assert fit_clocks(arrivals_at(IRREGULAR), []).epochs == ()
    alone = fit_clocks([], pulses_at(IRREGULAR))
    assert alone.unfitted == (0,)
    assert alone.clocks == ()


def test_lists_of_different_pours_do_not_fit():
    rng = np.random.default_rng(1)
    ours = np.sort(rng.uniform(0, 4000, 80))
    theirs = np.sort(rng.uniform(0, 4000, 80))
    assert fit_clocks(arrivals_at(ours), pulses_at(theirs)).unfitted == (0,)


def test_front_and_tail_decide_a_regular_stream():
    fit = fit_clocks(arrivals_at(REGULAR), pulses_at(REGULAR))
    assert not fit.ambiguous
    assert offset_ms(fit) == pytest.approx(2500.0, abs=0.05)


def test_a_regular_stream_cut_at_both_ends_is_ambiguous():
    # Clip and log each begin and end in mid-stream: one interval more or less fits as well.
    fit = fit_clocks(arrivals_at(REGULAR), pulses_at(REGULAR), watch=MIDSTREAM)
    assert fit.ambiguous
    offsets = [1e-6 * c.offset_ns for c in fit.epochs[0].candidates[:3]]
    assert sorted(round(o) for o in offsets) == [2475, 2500, 2525]
    assert sum(c.support for c in fit.epochs[0].candidates) == pytest.approx(1.0, abs=0.01)


def test_a_lamp_for_each_pour_settles_what_the_stream_leaves_open():
    lamp = [
        LampEvent(t_ns=2_000_000, on=True, sigma_ns=3_000_000),
        LampEvent(t_ns=479_000_000, on=False, sigma_ns=3_000_000),
    ]
    fit = fit_clocks(arrivals_at(REGULAR), pulses_at(REGULAR), watch=MIDSTREAM, lamp=lamp)
    assert not fit.ambiguous
    assert offset_ms(fit) == pytest.approx(2500.0, abs=0.05)


def test_one_event_of_a_lamp_in_mid_pour_says_nothing_of_single_pulses():
    # Three pours; the lamp is seen to go on once, with the second one.
    at = np.concatenate([REGULAR, 3000 + REGULAR, 6100 + REGULAR])
    lamp = [LampEvent(t_ns=3_001_000_000, on=True, sigma_ns=3_000_000)]
    pulses = pulses_at(at)
    seen = in_view(lamp, *_edges_us(pulses), 0)
    assert seen.on_edges_us.tolist() == pytest.approx([2.5e6, 5.5e6, 8.6e6])
    assert seen.off_edges_us.tolist() == pytest.approx([2980330, 5980330, 9080330])


def _edges_us(pulses):
    return (
        np.array([1e-3 * p.start_ns for p in pulses]),
        np.array([1e-3 * p.end_ns for p in pulses]),
    )


def test_a_lamp_for_each_pulse_settles_it_by_their_lengths():
    darks = np.where(np.arange(20) % 3 == 0, 5.0, 9.0)
    pulses = pulses_at(REGULAR, darks.tolist())
    assert fit_clocks(arrivals_at(REGULAR), pulses, watch=MIDSTREAM).ambiguous
    edges = [(t, True) for t in REGULAR] + [(t, False) for t in REGULAR + darks]
    lamp = [LampEvent(t_ns=round(1e6 * t), on=on, sigma_ns=1_000_000) for t, on in edges]
    fit = fit_clocks(arrivals_at(REGULAR), pulses, watch=MIDSTREAM, lamp=lamp)
    assert not fit.ambiguous
    assert offset_ms(fit) == pytest.approx(2500.0, abs=0.05)


def test_a_lamp_tells_the_height_of_the_beam():
    # All parts alike: 3 mm lower is 2 ms later, and nothing else in the lists shows it.
    at = IRREGULAR + 2.0
    carried = [replace(a, common_ns=2e6) for a in arrivals_at(IRREGULAR)]
    lamp = [LampEvent(t_ns=round(1e6 * t), on=True, sigma_ns=300_000) for t in at]
    (dark,) = fit_clocks(carried, pulses_at(at)).clocks
    (lit,) = fit_clocks(carried, pulses_at(at), lamp=lamp).clocks
    assert dark.sigma_ns(0) > 1.5e6
    assert lit.sigma_ns(0) < 0.15e6
    assert lit.offset_ns(0) == pytest.approx(2.5e9, abs=0.1e6)
    assert lit.height == pytest.approx(1.0, abs=0.1)


def test_what_was_known_beforehand_settles_it_too():
    fit = fit_clocks(
        arrivals_at(REGULAR), pulses_at(REGULAR), watch=MIDSTREAM, near_ns=(2.503e9, 2e6)
    )
    assert not fit.ambiguous
    assert offset_ms(fit) == pytest.approx(2500.0, abs=0.05)


def test_the_drift_is_that_of_a_straight_line():
    made = lists(
        "poisson",
        400,
        seed=4,
        missed=0.0,
        false_passages=0,
        false_pulses=0,
        clear_ms=0.0,
        interval_ms=150.0,
    )
    fit = fit_clocks(made.arrivals, made.pulses)
    (clock,) = fit.clocks
    starts = {}
    for pulse in made.pulses:
        for part in made.parts_of_pulse[pulse.id]:
            starts.setdefault(part, pulse.start_ns)
    single = [p for p in made.pulses if len(made.parts_of_pulse[p.id]) == 1]
    due = {made.parts_of_passage[a.passage.id][0]: a.due_ns for a in made.arrivals}
    x = np.array([due[made.parts_of_pulse[p.id][0]] for p in single], dtype=float)
    y = np.array([p.start_ns for p in single], dtype=float)
    line = stats.linregress(x, y - x)
    assert clock.drift_ppm == pytest.approx(1e6 * line.slope, abs=2 * clock.sigma_drift_ppm)
    assert clock.sigma_drift_ppm == pytest.approx(1e6 * line.stderr, rel=0.35)


def test_each_epoch_has_its_own_offset():
    rng = np.random.default_rng(8)
    first = np.cumsum(rng.exponential(40, 30) + 8)
    second = 5000 + np.cumsum(rng.exponential(40, 30) + 8)
    pulses = pulses_at(first, offset_s=2.5) + pulses_at(second, offset_s=-4.9, epoch=1, first=30)
    watch = Watch(
        beam=(
            Watched(epoch=0, start_ns=2_400_000_000, end_ns=6_500_000_000),
            Watched(epoch=1, start_ns=0, end_ns=5_000_000_000),
        )
    )
    fit = fit_clocks(arrivals_at([*first, *second]), pulses, watch=watch)
    assert [round(1e-9 * c.offset_ns(0), 3) for c in fit.clocks] == [2.5, -4.9]
    assert not fit.ambiguous


def test_washers_vote_with_their_first_dark_only():
    rng = np.random.default_rng(2)
    at = np.cumsum(rng.uniform(12, 40, 12))
    starts = np.sort(np.concatenate([at, at + 5.0]))
    fit = fit_clocks(arrivals_at(at), pulses_at(starts, 1.67), signature=WASHER)
    assert not fit.ambiguous
    assert offset_ms(fit) == pytest.approx(2500.0, abs=0.1)
    assert fit_clocks(arrivals_at(at), pulses_at(starts, 1.67)).ambiguous


def test_the_beams_height_is_learned_where_speeds_differ():
    made = lists("column", 60, seed=3, height_error_mm=3.0, height_sigma_mm=3.0, drift_ppm=10.0)
    (clock,) = fit_clocks(made.arrivals, made.pulses).clocks
    assert clock.height == pytest.approx(1.0, abs=0.25)


def test_the_beams_height_is_in_the_uncertainty_where_speeds_are_alike():
    made = lists("regular", 60, seed=3, height_error_mm=3.0, height_sigma_mm=3.0, missed=0.0)
    (clock,) = fit_clocks(made.arrivals, made.pulses).clocks
    speed = made.arrivals[0].speed
    assert speed is not None
    assert clock.sigma_ns(0) == pytest.approx(3.0 / speed * 1e9, rel=0.05)


def test_hours_of_pauses_are_followed():
    rng = np.random.default_rng(6)
    pours = [3600.0 * k + np.sort(rng.uniform(0, 3, 60)) for k in range(4)]
    t = np.concatenate(pours)
    drift = 80e-6 * t + 0.5e-6 * t**2 / 3600.0 / 2  # half a ppm more in each hour
    arrivals = [
        replace(a, passage=replace(a.passage, t_ns=a.passage.t_ns + round(1e5 * e)))
        for a, e in zip(arrivals_at(1e3 * t), rng.standard_normal(t.size), strict=True)
    ]
    fit = fit_clocks(arrivals, pulses_at(1e3 * (t + drift)))
    (clock,) = fit.clocks
    assert not fit.ambiguous
    for pour in pours:
        at_ns = round(1e9 * pour[30])
        true = 2.5e9 + 1e9 * (80e-6 * pour[30] + 0.5e-6 * pour[30] ** 2 / 7200.0)
        assert clock.offset_ns(at_ns) == pytest.approx(true, abs=0.1e6)


def test_passages_of_no_parts_and_cut_pulses_do_not_vote():
    ghosts = arrivals_at(IRREGULAR + 7.0, first=50, parts=0, doubt=0.2)
    cut = [replace(p, id=p.id + 50, cut=True) for p in pulses_at(IRREGULAR + 3.0)]
    fit = fit_clocks(arrivals_at(IRREGULAR) + ghosts, pulses_at(IRREGULAR) + cut)
    assert fit.epochs[0].matched == 15
    assert not fit.ambiguous


def test_transit_is_part_of_the_arrival():
    late = [Arrival(passage=a.passage, transit_ns=40_000_000) for a in arrivals_at(IRREGULAR)]
    known = fit_clocks(late, pulses_at(IRREGULAR + 40.0))
    unknown = fit_clocks(arrivals_at(IRREGULAR), pulses_at(IRREGULAR + 40.0))
    assert offset_ms(known) == pytest.approx(2500.0, abs=0.05)
    assert offset_ms(unknown) == pytest.approx(2540.0, abs=0.05)


def test_late_passages_hardly_move_the_clock():
    rng = np.random.default_rng(3)
    at = np.cumsum(rng.uniform(20, 60, 200))
    late = np.where(rng.random(200) < 0.2, 0.44, 0.0)
    seen = at + 0.1 * rng.standard_normal(200) + late
    fit = fit_clocks(arrivals_at(seen), pulses_at(at))
    middle_ns = round(1e6 * at[100])
    # Their plain mean would be off by a fifth of 0.44 ms.
    assert abs(1e-6 * fit.clocks[0].offset_ns(middle_ns) - 2500.0) < 0.5 * 0.2 * 0.44
