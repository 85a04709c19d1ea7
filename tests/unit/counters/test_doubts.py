"""What keeps two counters in doubt."""

from typing import Any

import pytest
from tallies import DOUBT, pairing

from viscount.agreement.result import Result
from viscount.codes import Code
from viscount.counters.doubts import Doubts, Timing, doubted
from viscount.counters.sticking import is_stuck
from viscount.tally import Reason
from viscount.values import Pairs, Pulse, Status

CLEAN = Result(count=10, low=10, high=10, status=Status.CLEAN, reasons=())
CAMERA = Result(count=9, low=8, high=9, status=Status.DOUBTFUL, reasons=(DOUBT,))
STUCK = Reason(code=Code.BEAM_STUCK_BLOCKED, text="the beam stays blocked")
OPEN = Reason(code=Code.BEAM_STUCK_OPEN, text="the beam stays light")
END = Reason(code=Code.BEAM_END_UNKNOWN, text="no end")
BEAM = Result(count=12, low=12, high=13, status=Status.DOUBTFUL, reasons=(STUCK, END))


def doubts(**changes: Any) -> Doubts:
    plain: dict[str, Any] = {
        "camera": CAMERA,
        "beam": BEAM,
        "neither_ns": (),
        "end_matters": False,
        "clocked": True,
        "timing": Timing(off_ns=50e3, scatter=1.0, rhythm_ns=2e6),
        "stuck": False,
        "hidden": 0,
    }
    return Doubts(**{**plain, **changes})


def codes(**changes: Any) -> list[Code]:
    return [reason.code for reason in doubted(CLEAN, doubts(**changes)).reasons]


def test_nothing_is_added_where_all_is_well():
    assert doubted(CLEAN, doubts()) == CLEAN


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"stuck": True}, Code.BEAM_STUCK_BLOCKED),
        ({"end_matters": True}, Code.BEAM_END_UNKNOWN),
        ({"hidden": 4}, Code.COUNTERS_DIFFER),
        ({"neither_ns": ((2e8, 3e8),)}, Code.NEITHER_WATCHED),
        ({"clocked": False}, Code.FRAMES_LOST),
        (
            {"timing": Timing(off_ns=0.9e6, scatter=8.0, rhythm_ns=1e6)},
            Code.COUNTERS_DISAGREE_IN_TIME,
        ),
    ],
)
def test_each_doubt_has_its_reason(changes: dict[str, Any], code: Code):
    found = doubted(CLEAN, doubts(**changes))
    assert found.status is Status.DOUBTFUL
    assert found.reasons[0].code is code


def test_when_neither_watched_the_cameras_own_doubt_stays():
    assert codes(neither_ns=((2e8, 3e8),)) == [Code.NEITHER_WATCHED, Code.FRAMES_LOST]
    text = doubted(CLEAN, doubts(neither_ns=((2e8, 3e8),))).reasons[0].text
    assert "from 0.200 to 0.300 s" in text


def test_counters_that_disagree_in_time_leave_both_counts_open():
    off = Timing(off_ns=0.9e6, scatter=8.0, rhythm_ns=1e6)
    found = doubted(CLEAN, doubts(timing=off))
    assert (found.low, found.high) == (8, 13)
    assert "0.90 ms off each other" in found.reasons[0].text


@pytest.mark.parametrize(
    ("off_ns", "scatter", "rhythm_ns", "fits"),
    [
        (30e3, 0.8, 0.0, True),  # a regular stream
        (200e3, 5.0, 2e6, True),  # less sharp than stated, but far from chance
        (900e3, 9.0, 1e6, False),
        (2e6, 9.0, 50e6, False),  # as irregular as may be: 2 ms are no accident of clocks
        (2e6, 2.0, 1e6, True),  # nobody stated better
    ],
)
def test_what_is_in_time(off_ns: float, scatter: float, rhythm_ns: float, fits: bool):
    assert Timing(off_ns=off_ns, scatter=scatter, rhythm_ns=rhythm_ns).fits is fits


def test_where_pairing_is_in_doubt_a_camera_that_is_sure_has_the_count():
    unsure = Result(count=14, low=13, high=15, status=Status.DOUBTFUL, reasons=(DOUBT,))
    sure = Result(count=9, low=9, high=9, status=Status.CLEAN, reasons=())
    found = doubted(unsure, doubts(camera=sure))
    assert (found.count, found.low, found.high) == (9, 9, 15)
    # A beam that is as sure, and says otherwise, is not overruled.
    rival = Result(count=14, low=14, high=14, status=Status.CLEAN, reasons=())
    assert doubted(unsure, doubts(camera=sure, beam=rival)).count == 14
    same = Result(count=9, low=9, high=9, status=Status.CLEAN, reasons=())
    assert doubted(unsure, doubts(camera=sure, beam=same)).count == 9
    assert doubted(unsure, doubts()).count == 14


def test_an_invalid_result_stays_as_it_is():
    none = Result(count=0, low=0, high=9, status=Status.INVALID, reasons=(DOUBT,))
    assert doubted(none, doubts(stuck=True)) is none


def test_a_crowded_stream_does_not_make_a_beam_stuck():
    many = tuple(range(8))
    crowd = pairing(Pairs.MERGED_PULSE, 0.5, passages=many, pulses=(0,), parts=8).pairing
    whole = Pulse(id=0, epoch=0, start_ns=0, end_ns=60_000_000)
    cut = Pulse(id=0, epoch=0, start_ns=0, end_ns=60_000_000, cut=True)
    assert not is_stuck((STUCK,), [crowd], [whole])
    assert is_stuck((STUCK,), [crowd], [cut])
    assert is_stuck((STUCK,), [], [])
    assert is_stuck((OPEN,), [crowd], [whole])
    assert not is_stuck((), [crowd], [cut])
