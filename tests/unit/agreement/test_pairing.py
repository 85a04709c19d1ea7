"""Pairing: small cases, each with the one right answer."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, WASHER, arrivals_at, pulses_at

from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.error_rates import ErrorRates, rates_for
from viscount.agreement.pairing import Pairer, pair
from viscount.agreement.result import result
from viscount.agreement.watch import Watch
from viscount.codes import Code
from viscount.values import Direction, Level, Notice, Pairing, Pairs, Pulse, Unwatched, Watched

PITCH = np.array([0, 27, 49, 78, 101, 130, 151, 177, 203, 226, 251, 280.0])


def paired(arrivals, pulses, **options) -> list[Pairing]:
    fit = fit_clocks(
        arrivals, pulses, watch=options.get("watch"), signature=options.get("signature")
    )
    return pair(arrivals, pulses, fit.clocks, **options)


def total(pairings: list[Pairing]) -> int:
    return sum(pairing.parts for pairing in pairings)


def doubt(pairings: list[Pairing]) -> float:
    return sum(pairing.doubt for pairing in pairings)


def only(pairings: list[Pairing], kind: Pairs) -> Pairing:
    (found,) = [pairing for pairing in pairings if pairing.kind is kind]
    return found


@pytest.mark.parametrize("signature", [SCREW, None])
def test_all_agree(signature):
    found = paired(arrivals_at(PITCH), pulses_at(PITCH), signature=signature)
    assert [p.kind for p in found] == [Pairs.AGREED] * 12
    assert [(p.passages, p.pulses) for p in found] == [((k + 1,), (k,)) for k in range(12)]
    assert doubt(found) < 0.01
    assert all(abs(p.late_ns or 0) < 1000 for p in found)
    assert all(p.why == "" for p in found)
    assert [p.t_ns for p in found] == pytest.approx((1e6 * PITCH).tolist(), abs=1000)


@pytest.mark.parametrize("signature", [SCREW, None])
def test_two_screws_in_one_break(signature):
    # Dark 5.33 ms each, the second 3.67 ms behind the first: one dark of 9.0 ms.
    at = 25.0 * np.arange(10)
    at[4] = at[3] + 3.67
    darks = [5.33] * 9
    darks[3] = 9.0
    found = paired(arrivals_at(at), pulses_at(np.delete(at, 4), darks), signature=signature)
    merged = only(found, Pairs.MERGED_PULSE)
    assert (merged.passages, merged.pulses, merged.parts) == ((4, 5), (3,), 2)
    assert total(found) == 10
    assert doubt(found) < 0.01
    assert "two parts 3.7 ms apart" in merged.why


def test_two_screws_in_one_break_and_one_long_blob():
    at = 25.0 * np.arange(10)
    darks = [5.33] * 10
    darks[3] = 9.0
    arrivals = arrivals_at(np.delete(at, 4))
    arrivals[3] = arrivals_at([at[3] + 1.83], first=4, length_px=54.0)[0]
    pulses = pulses_at(np.delete(at, 4), np.delete(darks, 4).tolist())
    found = paired(arrivals, pulses, signature=SCREW, usual_px=32.0)
    merged = only(found, Pairs.MERGED_PULSE)
    assert (merged.passages, merged.pulses, merged.parts) == ((4,), (3,), 2)
    assert total(found) == 10
    # The camera's own word for two, with its doubt, comes to the same.
    arrivals[3] = arrivals_at([at[3] + 1.83], first=4, parts=2, doubt=0.02)[0]
    assert total(paired(arrivals, pulses, signature=SCREW)) == 10


def test_a_long_pulse_of_one_passage_is_doubtful():
    # The camera is sure of one part of usual size; the pulse is as long as two.
    darks = [5.33] * 12
    darks[5] = 9.0
    found = paired(arrivals_at(PITCH), pulses_at(PITCH, darks), signature=SCREW)
    assert 0.1 < found[5].doubt < 0.9
    assert found[5].fewer < 0.01
    assert found[4].doubt < 1e-4


def test_a_column_closer_than_the_beam_tells():
    at = 28.2 * np.sqrt(np.arange(60))
    starts, darks = [at[0]], []
    for before, after in pairwise(at.tolist()):
        if after - before - 3.0 >= 0.9:
            darks.append(before + 3.0 - starts[-1])
            starts.append(after)
    darks.append(at[-1] + 3.0 - starts[-1])
    screws = replace(SCREW, modes=(replace(SCREW.modes[0], darks=(3.0,)),))
    found = paired(arrivals_at(at), pulses_at(starts, darks), signature=screws)
    assert total(found) == 60
    assert doubt(found) < 0.02
    merged = [p for p in found if p.kind is Pairs.MERGED_PULSE]
    assert sum(p.parts for p in merged) + sum(p.kind is Pairs.AGREED for p in found) == 60
    assert all(p.why for p in merged)
    assert len(starts) < 60


def test_a_part_that_the_beam_missed():
    found = paired(arrivals_at(PITCH), pulses_at(np.delete(PITCH, 7)), signature=SCREW)
    alone = only(found, Pairs.CAMERA_ONLY)
    assert (alone.passages, alone.parts, alone.why) == ((8,), 1, "the beam missed it")
    assert 1e-3 < alone.doubt < 0.02
    assert alone.fewer == pytest.approx(alone.doubt, rel=0.05)
    assert not alone.excused


def test_of_a_doubtful_camera_that_part_is_not_sure():
    pieces = Notice(level=Level.DOUBT, code=Code.PIECES_OR_PAIRS, text="pieces or pairs")
    rates = rates_for(result([a.passage for a in arrivals_at(PITCH)], (pieces,), 0))
    found = paired(arrivals_at(PITCH), pulses_at(np.delete(PITCH, 7)), signature=SCREW, rates=rates)
    assert only(found, Pairs.CAMERA_ONLY).doubt > 0.2


def test_a_beam_that_misses_often_is_known_for_it():
    rng = np.random.default_rng(4)
    at = np.cumsum(rng.uniform(15, 45, 200))
    seen = rng.random(200) > 0.1
    found = paired(arrivals_at(at), pulses_at(at[seen]), signature=SCREW)
    alone = [p for p in found if p.kind is Pairs.CAMERA_ONLY]
    assert len(alone) == (~seen).sum()
    assert alone[-1].doubt < 0.3 * alone[0].doubt


def test_a_passage_five_sigma_off_is_still_its_pulses():
    seen = PITCH.copy()
    seen[5] += 0.55
    found = paired(arrivals_at(seen), pulses_at(PITCH), signature=SCREW)
    assert [p.kind for p in found] == [Pairs.AGREED] * 12
    assert found[5].late_ns == pytest.approx(-550_000, abs=60_000)
    assert found[5].doubt < 1e-3


def test_a_part_that_the_camera_missed():
    found = paired(arrivals_at(np.delete(PITCH, 7)), pulses_at(PITCH), signature=SCREW)
    alone = only(found, Pairs.BEAM_ONLY)
    assert (alone.pulses, alone.parts, alone.why) == ((7,), 1, "the camera missed it")
    assert alone.doubt < 0.05
    # Without knowing how long a part's pulse is, it might be anything.
    unknown = paired(arrivals_at(np.delete(PITCH, 7)), pulses_at(PITCH))
    assert only(unknown, Pairs.BEAM_ONLY).doubt > 0.3


def test_a_pulse_too_short_for_a_part():
    starts = np.sort(np.append(PITCH, 140.0))
    darks = [0.2 if t == 140.0 else 5.33 for t in starts]
    found = paired(arrivals_at(PITCH), pulses_at(starts, darks), signature=SCREW)
    alone = only(found, Pairs.BEAM_ONLY)
    assert (alone.parts, alone.why) == (0, "a pulse too short for a part")
    assert alone.doubt < 0.01
    assert total(found) == 12


def test_a_part_that_the_camera_missed_begins_a_long_pulse():
    # Its follower is 3.5 ms behind it, in the same dark.
    darks = [5.33] * 12
    darks[7] = 8.83
    seen = PITCH.copy()
    seen[7] += 3.5
    found = paired(arrivals_at(seen), pulses_at(PITCH, darks), signature=SCREW)
    merged = only(found, Pairs.MERGED_PULSE)
    assert (merged.passages, merged.pulses, merged.parts) == ((8,), (7,), 2)
    assert total(found) == 13


def test_a_part_that_the_camera_missed_between_two():
    # Three screws 4.5 ms apart in one dark; without the middle one it would have been clear.
    at = np.append(PITCH, [300.0, 309.0])
    darks = [5.33] * 12 + [14.33]
    found = paired(
        arrivals_at(at), pulses_at([*PITCH, 300.0], darks), signature=SCREW, clear_ns=600_000
    )
    merged = only(found, Pairs.MERGED_PULSE)
    assert (merged.passages, merged.parts) == ((13, 14), 3)
    assert total(found) == 15


def test_two_parts_in_one_pulse_in_the_cameras_blind_time():
    darks = [5.33] * 12
    darks[5] = 9.0
    watch = Watch(blind=((110_000_000, 140_000_000),))
    found = paired(
        arrivals_at(np.delete(PITCH, 5)), pulses_at(PITCH, darks), signature=SCREW, watch=watch
    )
    assert only(found, Pairs.BEAM_ONLY).parts == 2
    assert total(found) == 13


def test_what_the_camera_suspected_and_the_beam_did_not_see():
    ghost = arrivals_at([140.0], first=50, parts=0, doubt=0.3)
    found = paired(arrivals_at(PITCH) + ghost, pulses_at(PITCH), signature=SCREW)
    alone = only(found, Pairs.CAMERA_ONLY)
    assert alone.parts == 0
    assert alone.doubt < 0.03
    assert alone.fewer == 0.0


def test_what_the_camera_suspected_and_the_beam_saw():
    at = np.sort(np.append(PITCH, 140.0))
    ghost = arrivals_at([140.0], first=50, parts=0, doubt=0.3)
    found = paired(arrivals_at(PITCH) + ghost, pulses_at(at), signature=SCREW)
    assert total(found) == 13
    assert doubt(found) < 0.01


def test_the_cameras_blind_time_explains_a_lone_pulse():
    # Six frames missing: the third of ten parts falls unseen.
    at = 25.0 * np.arange(10)
    watch = Watch(camera=(-(10**8), 10**9), blind=((29_700_000, 88_000_000),))
    found = paired(arrivals_at(np.delete(at, 2)), pulses_at(at), signature=SCREW, watch=watch)
    alone = only(found, Pairs.BEAM_ONLY)
    assert (alone.pulses, alone.parts, alone.excused) == ((2,), 1, True)
    assert alone.why == "in the camera's blind time"
    # Nobody would know of a part there that the beam missed as well.
    assert 0.015 < alone.doubt < 0.03
    assert alone.fewer < 1e-3
    assert total(found) == 10


def test_a_stretch_that_the_beam_did_not_watch_explains_lone_passages():
    watch = Watch(
        beam=(Watched(epoch=0, start_ns=2_400_000_000, end_ns=2_900_000_000),),
        unwatched=(
            Unwatched(epoch=0, start_ns=2_590_000_000, end_ns=2_640_000_000, edges_lost=None),
        ),
    )
    found = paired(
        arrivals_at(PITCH), pulses_at(np.delete(PITCH, [4, 5])), signature=SCREW, watch=watch
    )
    alone = [p for p in found if p.kind is Pairs.CAMERA_ONLY]
    assert [p.passages for p in alone] == [(5,), (6,)]
    assert all(p.excused and p.why == "the beam was not watched" for p in alone)
    assert doubt(found) < 0.01


def test_a_ring_through_its_bore_is_one_part():
    at = 8.0 * np.arange(10) + np.random.default_rng(1).normal(0, 0.4, 10)
    starts: list[float] = []
    darks: list[float] = []
    for k, t in enumerate(at):
        beside = k in (3, 6, 7)
        starts += [t] if beside else [t, t + 5.0]
        darks += [6.67] if beside else [1.67, 1.67]
    found = paired(arrivals_at(at), pulses_at(starts, darks), signature=WASHER)
    assert total(found) == 10
    assert doubt(found) < 0.01
    kinds = [Pairs.AGREED if k in (3, 6, 7) else Pairs.SPLIT_PULSE for k in range(10)]
    assert [p.kind for p in found] == kinds
    # Without a signature the number is the same, but not sure.
    unknown = paired(arrivals_at(at), pulses_at(starts, darks))
    assert total(unknown) == 10
    assert doubt(unknown) > 0.05


def test_entangled_rings_are_two_parts():
    # The second ring is 4 ms behind: its first dark touches the first one's second.
    at = np.append(PITCH + 0.0, 300.0)
    starts = [x for t in PITCH for x in (t, t + 5.0)] + [300.0, 304.0, 309.0]
    darks = [1.67] * 24 + [1.67, 2.67, 1.67]
    arrivals = arrivals_at([*at, 304.0])
    found = paired(arrivals, pulses_at(starts, darks), signature=WASHER)
    tangled = only(found, Pairs.AMBIGUOUS)
    assert (tangled.passages, tangled.pulses, tangled.parts) == ((13, 14), (24, 25, 26), 2)
    assert total(found) == 14


def test_lost_edges_leave_the_number_to_the_camera():
    at = np.append(PITCH, [290.0, 298.0, 307.0])
    pulses = pulses_at(PITCH)
    pulses.append(Pulse(id=12, epoch=0, start_ns=2_790_000_000, end_ns=2_812_330_000, lost_edges=1))
    found = paired(arrivals_at(at), pulses, signature=SCREW)
    assert total(found) == 15


def test_a_stuck_part_hides_those_that_pass_meanwhile():
    at = np.append(PITCH, [300.0, 320.0, 341.0])
    found = paired(
        arrivals_at(at), pulses_at([*PITCH, 300.0], [5.33] * 12 + [400.0]), signature=SCREW
    )
    assert total(found) == 15
    assert only(found, Pairs.MERGED_PULSE).passages == (13, 14, 15)


def test_parts_that_swap_places_on_the_way():
    # The second to cross the line is the faster one, and reaches the beam first.
    arrivals = arrivals_at(PITCH)
    slow, fast = arrivals_at([300.0, 304.0], first=13)
    arrivals += [replace(slow, transit_ns=14_000_000), replace(fast, transit_ns=2_000_000)]
    found = paired(arrivals, pulses_at([*PITCH, 306.0, 314.0]), signature=SCREW)
    assert [p.passages for p in found[-2:]] == [(14,), (13,)]
    assert doubt(found) < 0.01


@pytest.mark.parametrize("pulses_again", [True, False])
def test_a_part_that_bounces_back_up_counts_less_one(pulses_again: bool):
    there = arrivals_at(PITCH)
    back = arrivals_at([320.0], first=13, direction=Direction.AGAINST)
    again = arrivals_at([350.0], first=14)
    starts = [*PITCH, 320.0, 350.0] if pulses_again else [*PITCH, 350.0]
    found = paired(there + back + again, pulses_at(starts), signature=SCREW)
    assert total(found) == 12
    assert {p.passages: p.parts for p in found}[(13,)] == -1


def test_pulses_without_any_passage():
    watch = Watch(camera=(0, 10**9), blind=((-(10**12), 10**12),))
    pulses = pulses_at(8.0 * np.arange(20))
    found = pair([], pulses, (), signature=SCREW, watch=watch)
    assert total(found) == 20
    assert all(p.kind is Pairs.BEAM_ONLY and p.excused for p in found)
    # Twenty parts, each beside one that the beam may have missed: no clean number.
    assert doubt(found) > 0.2


def test_pulses_that_no_clock_places_are_kept_apart():
    rng = np.random.default_rng(1)
    arrivals = arrivals_at(np.sort(rng.uniform(0, 4000, 80)))
    pulses = pulses_at(np.sort(rng.uniform(0, 4000, 80)))
    found = pair(arrivals, pulses, fit_clocks(arrivals, pulses).clocks, signature=SCREW)
    apart = only(found, Pairs.AMBIGUOUS)
    assert len(apart.pulses) == 80
    assert apart.doubt == 1.0
    assert total(found) == 80


def test_passages_alone():
    found = pair(arrivals_at(PITCH), [], ())
    assert total(found) == 12
    assert all(p.kind is Pairs.CAMERA_ONLY and p.excused for p in found)


def test_rates_learn_from_what_was_missed():
    rates = ErrorRates(beam_missed=0.02)
    assert rates.after(0, 0, 0) == rates
    assert rates.after(0, 8, 100).beam_missed == pytest.approx(9 / 150)
    assert rates.after(1, 0, 100).camera_missed == pytest.approx(1.5 / 600)


def test_a_pairer_says_nothing_before_it_knows_the_clocks():
    pairer = Pairer(signature=SCREW)
    assert pairer.feed(arrivals_at(PITCH[:5]), pulses_at(PITCH[:5]), 130_000_000) == []
    rest = pairer.feed(arrivals_at(PITCH[5:], first=6), pulses_at(PITCH[5:], first=5), 10**9)
    assert total(rest) == 12
    assert pairer.finish() == []
    assert 1e-9 * pairer.clocks[0].offset_ns(0) == pytest.approx(2.5, abs=1e-4)


def test_a_live_pairer_gives_up_waiting_for_a_silent_beam():
    pairer = Pairer(signature=SCREW)
    assert pairer.feed(arrivals_at(PITCH), [], 10**9) == []
    assert total(pairer.feed([], [], 12 * 10**9)) == 12
