"""The result of both counters, and the account that the tally gives of them."""

import numpy as np
import pytest
from benchmarks.pairing.by_hand import SCREW, arrivals_at, pulses_at

from viscount.agreement.account import agreement_tally
from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.combined import Combined, against_total, combined
from viscount.agreement.error_rates import ErrorRates, rates_for
from viscount.agreement.pairing import pair
from viscount.agreement.result import Result, result
from viscount.agreement.watch import Watch
from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Level, Notice, Status, Watched

PITCH = np.array([0, 27, 49, 78, 101, 130, 151, 177, 203, 226, 251, 280.0])
GAP = Notice(level=Level.DOUBT, code=Code.FRAMES_LOST, text="gap 58.3 ms after frame 11")
TOO_FEW = Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text="each at most once")
LOST = Notice(level=Level.DOUBT, code=Code.FRAMES_LOST, text="edges lost")


def beam_alone(count: int, *reasons: Reason, status: Status | None = None) -> Result:
    plain = Status.DOUBTFUL if reasons else Status.CLEAN
    return Result(count=count, low=count, high=count, status=status or plain, reasons=reasons)


def both(arrivals, pulses, notices=(), *, beam=None, watch=None) -> Combined:
    """Run the whole chain as a caller does."""
    camera = result([a.passage for a in arrivals], notices, 0)
    rates = rates_for(camera)
    fit = fit_clocks(arrivals, pulses, watch=watch, signature=SCREW)
    found = pair(arrivals, pulses, fit.clocks, signature=SCREW, watch=watch, rates=rates)
    beam = beam or beam_alone(len(pulses))
    return combined(found, fit, camera=camera, beam=beam, origin_ns=0, rates=rates)


def codes(found: Combined) -> list[Code]:
    return [reason.code for reason in found.result.reasons]


def noted(found: Combined) -> list[Code]:
    return [notice.code for notice in found.notes]


def test_two_clean_counters_that_agree():
    found = both(arrivals_at(PITCH), pulses_at(PITCH))
    assert (found.result.count, found.result.low, found.result.high) == (12, 12, 12)
    assert found.result.status is Status.CLEAN
    assert found.notes == ()


def test_a_gap_in_the_recording_is_explained_by_the_beam():
    at = 25.0 * np.arange(10)
    watch = Watch(camera=(-(10**8), 10**9), blind=((29_700_000, 88_000_000),))
    found = both(arrivals_at(np.delete(at, 2)), pulses_at(at), (GAP,), watch=watch)
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    assert noted(found) == [Code.SEEN_BY_ONE]
    assert "1 part passed while only one counter watched; look at 1 place" in found.notes[0].text


def test_a_gap_in_the_recording_stays_a_doubt_where_the_beam_missed_a_part_too():
    at = 25.0 * np.arange(10)
    watch = Watch(camera=(-(10**8), 10**9), blind=((29_700_000, 88_000_000),))
    found = both(arrivals_at(np.delete(at, 2)), pulses_at(np.delete(at, 6)), (GAP,), watch=watch)
    assert found.result.status is Status.DOUBTFUL
    assert Code.FRAMES_LOST in codes(found)


def test_too_few_frames_leave_the_count_to_the_beam():
    watch = Watch(camera=(0, 10**9), blind=((-(10**12), 10**12),))
    camera = result([], (TOO_FEW,), 0)
    pulses = pulses_at(8.0 * np.arange(20))
    fit = fit_clocks([], pulses, watch=watch)
    rates = rates_for(camera)
    pairings = pair([], pulses, fit.clocks, signature=SCREW, watch=watch, rates=rates)
    found = combined(pairings, fit, camera=camera, beam=beam_alone(20), origin_ns=0, rates=rates)
    assert found.result.count == 20
    assert found.result.status is Status.DOUBTFUL
    assert codes(found)[:2] == [Code.TOO_FEW_SIGHTINGS, Code.BEAM_ALONE]


def test_a_doubtful_beam_alone_says_why():
    reason = Reason(code=Code.BEAM_PULSES_MERGED, text="1 long")
    camera = result([], (TOO_FEW,), 0)
    watch = Watch(camera=(0, 10**9), blind=((-(10**12), 10**12),))
    pulses = pulses_at(PITCH)
    fit = fit_clocks([], pulses)
    rates = rates_for(camera)
    pairings = pair([], pulses, fit.clocks, signature=SCREW, watch=watch, rates=rates)
    beam = beam_alone(12, reason)
    found = combined(pairings, fit, camera=camera, beam=beam, origin_ns=0, rates=rates)
    assert reason in found.result.reasons


def test_a_double_break_is_named_and_clean():
    at = 25.0 * np.arange(10)
    at[4] = at[3] + 3.67
    darks = [5.33] * 9
    darks[3] = 9.0
    found = both(arrivals_at(at), pulses_at(np.delete(at, 4), darks))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    assert noted(found) == [Code.PULSES_OF_SEVERAL]


def test_a_camera_that_doubts_all_of_it_is_borne_out_part_by_part():
    pieces = Notice(level=Level.DOUBT, code=Code.PIECES_OR_PAIRS, text="pieces or pairs")
    assert both(arrivals_at(PITCH), pulses_at(PITCH), (pieces,)).result.status is Status.CLEAN
    # Where two passages share one pulse of usual length, the beam does not say that they are two.
    doubled = np.sort(np.append(PITCH, PITCH[4] + 0.3))
    found = both(arrivals_at(doubled), pulses_at(PITCH), (pieces,))
    assert found.result.status is Status.DOUBTFUL


def test_what_the_camera_doubts_in_places_is_in_the_pairings():
    # The camera alone would be doubtful; each suspicion is borne out or not by the beam. A part
    # that the beam missed elsewhere changes nothing in that.
    unsure = arrivals_at(PITCH[:3], doubt=0.04) + arrivals_at(PITCH[3:], first=4)
    assert result([a.passage for a in unsure], (), 0).status is Status.DOUBTFUL
    found = both(unsure, pulses_at(np.delete(PITCH, 7)))
    assert (found.result.count, found.result.status) == (12, Status.CLEAN)


def test_a_camera_paired_too_trustingly_keeps_its_doubts():
    pieces = Notice(level=Level.DOUBT, code=Code.PIECES_OR_PAIRS, text="pieces or pairs")
    camera = result([a.passage for a in arrivals_at(PITCH)], (pieces,), 0)
    fit = fit_clocks(arrivals_at(PITCH), pulses_at(PITCH))
    pairings = pair(arrivals_at(PITCH), pulses_at(PITCH), fit.clocks, signature=SCREW)
    found = combined(
        pairings, fit, camera=camera, beam=beam_alone(12), origin_ns=0, rates=ErrorRates()
    )
    assert codes(found) == [Code.PIECES_OR_PAIRS]


def test_the_camera_bears_out_a_doubtful_beam():
    reason = Reason(code=Code.BEAM_PULSES_MERGED, text="1 long")
    found = both(arrivals_at(PITCH), pulses_at(PITCH), beam=beam_alone(12, reason))
    assert found.result.status is Status.CLEAN


def test_a_part_that_the_beam_missed_is_noted():
    found = both(arrivals_at(PITCH), pulses_at(np.delete(PITCH, 7)))
    assert (found.result.count, found.result.status) == (12, Status.CLEAN)
    assert noted(found) == [Code.BEAM_MISSED]
    assert "1 part gave no pulse; look at 1 place: 0.177 s" in found.notes[0].text


def test_a_part_that_the_camera_missed_is_noted():
    found = both(arrivals_at(np.delete(PITCH, 7)), pulses_at(PITCH))
    assert found.result.count == 12
    assert Code.CAMERA_MISSED in noted(found)


def test_many_missed_parts_are_never_clean():
    rng = np.random.default_rng(2)
    at = np.cumsum(rng.uniform(15, 45, 60))
    kept = np.sort(rng.permutation(60)[:36])
    found = both(arrivals_at(at), pulses_at(at[kept]))
    assert found.result.status is Status.DOUBTFUL
    assert Code.COUNTERS_DIFFER in codes(found)


def test_an_unsure_pairing_names_its_place():
    darks = [5.33] * 12
    darks[5] = 9.0
    found = both(arrivals_at(PITCH), pulses_at(PITCH, darks))
    (reason,) = found.result.reasons
    assert reason.code is Code.PAIRINGS_UNSURE
    assert "look at 1 place: 0.130 s" in reason.text
    assert (found.result.low, found.result.high) == (12, 13)


def test_clocks_that_cannot_be_told():
    regular = 25.0 * np.arange(20)
    watch = Watch(
        camera=(-5_000_000, 480_000_000),
        beam=(Watched(epoch=0, start_ns=2_500_000_000, end_ns=2_980_000_000),),
    )
    found = both(arrivals_at(regular), pulses_at(regular), watch=watch)
    assert found.result.count == 20
    assert found.result.status is Status.DOUBTFUL
    assert codes(found) == [Code.CLOCKS_AMBIGUOUS]
    assert "2.5000 s" in found.result.reasons[0].text


def test_lists_of_different_pours():
    rng = np.random.default_rng(1)
    ours, theirs = np.sort(rng.uniform(0, 4000, (2, 80)), axis=1)
    found = both(arrivals_at(ours), pulses_at(theirs[:75]))
    assert codes(found)[0] is Code.CLOCKS_UNFITTED
    assert found.result.status is Status.DOUBTFUL
    assert found.result.low <= 75
    assert found.result.high >= 80


def test_a_beam_that_is_out_leaves_the_camera():
    dead = beam_alone(0, Reason(code=Code.BEAM_STUCK_OPEN, text="no edge"), status=Status.INVALID)
    found = both(arrivals_at(PITCH), [], beam=dead)
    assert (found.result.count, found.result.status) == (12, Status.DOUBTFUL)
    assert codes(found) == [Code.BEAM_STUCK_OPEN, Code.CAMERA_ALONE]


def test_neither_can_count():
    dead = beam_alone(0, Reason(code=Code.BEAM_STUCK_OPEN, text="no edge"), status=Status.INVALID)
    found = both(arrivals_at(PITCH), [], (TOO_FEW,), beam=dead)
    assert found.result.status is Status.INVALID
    assert codes(found) == [Code.TOO_FEW_SIGHTINGS, Code.BEAM_STUCK_OPEN]


def test_a_bare_total_that_agrees():
    camera = result([a.passage for a in arrivals_at(PITCH)], (), 0)
    assert against_total(camera, 12) == camera


def test_a_bare_total_that_does_not():
    found = against_total(result([a.passage for a in arrivals_at(PITCH)], (), 0), 13)
    assert (found.count, found.low, found.high) == (12, 12, 13)
    assert found.status is Status.DOUBTFUL
    assert found.reasons[0].code is Code.BEAM_TOTAL_DIFFERS
    assert "camera counted 12" in found.reasons[0].text
    assert "total is 13" in found.reasons[0].text


def test_a_bare_total_beside_a_camera_that_cannot_count():
    found = against_total(result([], (TOO_FEW,), 0), 20)
    assert (found.count, found.status) == (20, Status.DOUBTFUL)


@pytest.mark.parametrize("height_known", [True, False])
def test_the_account(height_known: bool):
    at = np.cumsum(np.random.default_rng(1).uniform(20, 40, 250))
    arrivals, pulses = arrivals_at(at), pulses_at(np.delete(at, [50, 90]))
    fit = fit_clocks(arrivals, pulses)
    pairings = pair(arrivals, pulses, fit.clocks, signature=SCREW)
    said = agreement_tally(pairings, fit, at_ns=0, height_known=height_known)
    assert (said.agreed, said.camera_only, said.beam_only) == (248, 2, 0)
    assert (said.merged_pulses, said.split_pulses, said.ambiguous) == (0, 0, 0)
    offset = said.clock_offset_s if height_known else said.arrival_offset_s
    other = said.arrival_offset_s if height_known else said.clock_offset_s
    assert offset == pytest.approx(2.5, abs=1e-4)
    assert other is None
    assert said.clock_drift_ppm == pytest.approx(0.0, abs=5.0)
    # The camera missed nothing that the beam saw: nothing points to parts that both missed.
    assert said.both_missed == pytest.approx(0.0, abs=1e-6)


def test_the_account_of_few_parts_does_not_guess_what_both_missed():
    fit = fit_clocks(arrivals_at(PITCH), pulses_at(PITCH))
    pairings = pair(arrivals_at(PITCH), pulses_at(PITCH), fit.clocks)
    assert agreement_tally(pairings, fit, at_ns=0, height_known=True).both_missed is None


def test_the_account_without_clocks():
    said = agreement_tally(pair([], [], ()), fit_clocks([], []), at_ns=0, height_known=True)
    assert said.clock_offset_s is None
    assert said.clock_drift_ppm is None
