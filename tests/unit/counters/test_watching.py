"""Who watched when; and pours that a recording does not show."""

from dataclasses import replace

import numpy as np
import pytest
from tallies import OFFSET_S, passage, pulse, tally

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_fit import ClockFit, EpochFit
from viscount.agreement.clock_state import ClockState
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.counters.outside import inside_run
from viscount.counters.watching import (
    captured,
    end_matters,
    end_ns,
    neither_watched,
    patience,
    watch_of,
)
from viscount.tally import CameraTally, FrameTally, Reason
from viscount.values import Status, Unwatched, Watched

CLOCK = ClockLine(
    epoch=0,
    origin_ns=0,
    board_origin_ns=round(1e9 * OFFSET_S),
    states=(ClockState(at_s=0.0, mean=np.zeros(3), cov=np.diag([1.0, 1.0, 1.0])),),
)
FIT = ClockFit(epochs=(EpochFit(epoch=0, clock=CLOCK),))


def board(start_s: float, end_s: float, epoch: int = 0) -> Watched:
    at = [round(1e9 * (OFFSET_S + s)) for s in (start_s, end_s)]
    return Watched(epoch=epoch, start_ns=at[0], end_ns=at[1])


def frames(blind: tuple[tuple[float, float], ...] = (), end_s: float | None = 2.0) -> FrameTally:
    return FrameTally(
        read=240, lost=0, repeated=0, damaged=0, rate_hz=120.0, blind=blind, end_s=end_s
    )


def arrivals(*times_s: float) -> list[Arrival]:
    return [Arrival(passage=passage(k, t).passage) for k, t in enumerate(times_s)]


def neither(record: BeamRecord, *, blind: tuple[tuple[float, float], ...] = (), code=None):
    reasons = () if code is None else (Reason(code=code, text="so"),)
    camera = CameraTally(count=3, against=0, status=Status.CLEAN, reasons=reasons)
    made = tally(frames=frames(blind), camera=camera)
    return neither_watched(made, watch_of(made, record, sees=True), [CLOCK], 0.0, 3e8) * 1e-9


def test_blind_times_that_the_beam_watched_are_none():
    assert len(neither(BeamRecord(watched=(board(-1, 3),)), blind=((0.5, 0.7),))) == 0


def test_blind_times_in_which_edges_were_lost_remain():
    gap = Unwatched(
        epoch=0, start_ns=board(0.6, 0).start_ns, end_ns=board(0.9, 0).start_ns, edges_lost=2
    )
    record = BeamRecord(watched=(board(-1, 3),), unwatched=(gap,))
    assert neither(record, blind=((0.5, 0.7),)) == pytest.approx(np.array([[0.6, 0.7]]))


def test_pictures_that_end_with_parts_on_their_way_need_the_beam_for_longer():
    short = BeamRecord(watched=(board(-1, 2.1),))
    assert len(neither(short)) == 0
    assert neither(short, code=Code.PARTS_IN_LAST_FRAME) == pytest.approx(np.array([[2.1, 2.3]]))


def test_a_camera_that_cannot_count_never_watched():
    made = tally(frames=frames())
    assert np.all(np.abs(watch_of(made, BeamRecord(), sees=False).camera_spans()) > 1e18)


def test_the_end_of_a_tally_that_does_not_say():
    assert end_ns(tally(frames=frames())) == 2_000_000_000
    assert end_ns(tally(frames=frames(end_s=None))) == 2_000_000_000
    odd = replace(frames(end_s=None), rate_hz=None)
    assert end_ns(tally(frames=odd)) == 550_000_000


@pytest.mark.parametrize(
    ("last_s", "blind", "matters"),
    [
        (1.0, (), False),
        (0.74, (), True),  # the camera saw one after it
        (1.9, (), True),  # the recording ends too soon to tell
        (1.0, ((1.1, 1.2),), True),
    ],
)
def test_when_the_end_of_a_log_matters(
    last_s: float, blind: tuple[tuple[float, float], ...], matters: bool
):
    made = tally(frames=frames(blind))
    watch = watch_of(made, BeamRecord(watched=(board(0, last_s),)), sees=True)
    found = end_matters(arrivals(0.5, 0.6, 0.75), watch, CLOCK, 1e9)
    assert found is matters
    assert end_matters(arrivals(0.5), watch, None, 1e9)


def test_patience_is_that_of_the_last_intervals():
    assert patience(np.array([0.0, 1e8, 3e8, 9e9]), 1e9) == 6e8
    assert patience(np.array([0.0]), 1e9) == 1e9
    assert patience(np.array([0.0, 9e8]), 1e9) == 1e9


def test_captured_times_are_those_of_the_clock():
    some = [pulse(k, t).pulse for k, t in enumerate((0.5, 1.25))]
    assert captured(some, [CLOCK]) == {0: 500_000_000, 1: 1_250_000_000}
    assert captured([replace(some[0], epoch=1)], [CLOCK]) == {}


def inside(*times_s: float, record: BeamRecord | None = None) -> list[int]:
    some = [pulse(k, t).pulse for k, t in enumerate(times_s)]
    found = inside_run(
        some,
        FIT,
        record or BeamRecord(watched=(board(-99, 99),)),
        span_ns=(0, 2_000_000_000),
        transit_ns=0.0,
        quiet_ns=1e9,
    )
    return [p.id for p in found]


def test_pours_wholly_outside_are_left_out_and_those_that_reach_in_stay():
    assert inside(-5.0, -4.9, 0.5, 0.6, 40.0) == [2, 3]
    assert inside(-0.5, 0.4, 1.3, 2.2, 2.9) == [0, 1, 2, 3, 4]


def test_runs_of_the_board_that_ended_before_the_recording_are_left_out():
    before = replace(pulse(0, 0.5).pulse, epoch=0)
    own = replace(pulse(1, 0.5).pulse, epoch=1)
    clock = replace(CLOCK, epoch=1)
    fit = ClockFit(epochs=(EpochFit(epoch=0, clock=None), EpochFit(epoch=1, clock=clock)))
    for began_s, kept in ((-1.0, [1]), (0.3, [0, 1])):
        record = BeamRecord(watched=(board(0, 1), board(began_s, 9, epoch=1)))
        found = inside_run(
            [before, own],
            fit,
            record,
            span_ns=(0, 2_000_000_000),
            transit_ns=0.0,
            quiet_ns=1e9,
        )
        assert [p.id for p in found] == kept
