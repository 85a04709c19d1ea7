"""Pours paired one by one: what one counter missed shows, whatever the totals say."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from packing_rig import LENGTH_PX, LOOKS, OUTLET, SPEED_PX_S, WAY_S
from tallies import passage

from viscount.codes import Code
from viscount.counters.both import with_beam
from viscount.packing.paired import Paired, PourSeen
from viscount.session.pour_pairs import PourPairs
from viscount.tally import Reason, Tally
from viscount.values import Pulse

WRAP_S = 2**32 * 1e-6
BOARD_S, HOST_S = 50.0, 1000.0
"""What board and host show as the camera's first frame is taken."""


def pour(
    heads_s: Sequence[float],
    *,
    unseen: Sequence[int] = (),
    unfelt: Sequence[int] = (),
    board_s: float = BOARD_S,
    drift: float = 80e-6,
    seed: int = 1,
) -> PourSeen:
    """Parts whose heads pass the beam at these times, on the camera's clock."""
    rng = np.random.default_rng(seed)
    off_s = rng.normal(0.0, 1e-4, len(heads_s))
    passages = [
        passage(
            k + round(1000 * heads_s[0]),
            heads_s[k] - WAY_S + off_s[k],
            sigma_ns=100_000,
            speed_px_s=SPEED_PX_S,
            length_px=LENGTH_PX + 2.0,
        ).passage
        for k in range(len(heads_s))
        if k not in unseen
    ]
    pulses = []
    for k, head_s in enumerate(heads_s):
        if k not in unfelt:
            start_ns = round(1e9 * (board_s + head_s * (1 + drift)))
            end_ns = start_ns + round(1e9 * LENGTH_PX / SPEED_PX_S)
            pulses.append(Pulse(id=len(pulses), epoch=0, start_ns=start_ns, end_ns=end_ns))
    # The first edge is told 4 ms late.
    host_ns = round(1e9 * (HOST_S + heads_s[0] + 0.004))
    first_ns = pulses[0].start_ns if pulses else 0
    return PourSeen(passages=passages, pulses=pulses, heard_ns=host_ns - first_ns)


def even(from_s: float, parts: int = 6, every_s: float = 0.08) -> list[float]:
    return [from_s + k * every_s for k in range(parts)]


@pytest.fixture
def pairs() -> PourPairs:
    return PourPairs(OUTLET, lambda: LOOKS)


def test_parts_that_both_saw_agree(pairs: PourPairs) -> None:
    assert pairs.of(pour(even(5.0))) == Paired(agreed=6)


@pytest.mark.parametrize(("unseen", "unfelt"), [(0, 5), (5, 0), (1, 4), (3, 2)])
def test_misses_that_cancel_show_where_good_pours_came_before(
    pairs: PourPairs, unseen: int, unfelt: int
) -> None:
    """Equal intervals, and the first and the last part: by itself the pour would fit one off."""
    assert not pairs.of(pour(even(5.0))).reasons
    pairs.keep()
    found = pairs.of(pour(even(25.0), unseen=[unseen], unfelt=[unfelt], seed=2))
    assert (found.agreed, found.camera_only, found.beam_only) == (4, 1, 1)
    assert found.reasons


def test_what_is_not_kept_is_not_gone_by(pairs: PourPairs) -> None:
    """The same pour as above, and nothing behind it that tells where it belongs."""
    pairs.of(pour(even(5.0)))
    pairs.keep()
    pairs.forget()
    found = pairs.of(pour(even(25.0), unseen=[0], unfelt=[5], seed=2))
    assert found == Paired(agreed=5)


def test_one_that_only_one_counter_saw_is_told(pairs: PourPairs) -> None:
    missed = pairs.of(pour(even(5.0), unfelt=[2]))
    assert (missed.agreed, missed.camera_only, missed.beam_only) == (5, 1, 0)
    assert pairs.of(pour(even(9.0, parts=2), unseen=[0, 1])) == Paired(beam_only=2)
    assert pairs.of(pour(even(9.0, parts=2), unfelt=[0, 1])) == Paired(camera_only=2)
    assert pairs.of(PourSeen(passages=(), pulses=())) == Paired()


def test_a_clock_that_wraps_between_pours_goes_on(pairs: PourPairs) -> None:
    board_s = WRAP_S - 15.0
    assert not pairs.of(pour(even(5.0), board_s=board_s)).reasons
    pairs.keep()
    wrapped = pour(even(25.0), unseen=[0], unfelt=[5], board_s=board_s - WRAP_S, seed=2)
    found = pairs.of(wrapped)
    assert (found.agreed, found.camera_only, found.beam_only) == (4, 1, 1)


def test_a_board_that_restarted_is_another_clock(pairs: PourPairs) -> None:
    assert not pairs.of(pour(even(5.0))).reasons
    pairs.keep()
    assert pairs.of(pour(even(25.0), board_s=-20.0, seed=2)) == Paired(agreed=6)


def test_a_top_up_of_one_part_is_held_to_the_clock(pairs: PourPairs) -> None:
    assert not pairs.of(pour(even(5.0))).reasons
    pairs.keep()
    assert pairs.of(pour([25.0])) == Paired(agreed=1)
    late = pour([45.0])
    late = replace(late, passages=[replace(late.passages[0], t_ns=late.passages[0].t_ns + 10**8)])
    assert pairs.of(late).agreed == 0


def test_only_so_much_is_kept(pairs: PourPairs) -> None:
    for k in range(6):
        assert not pairs.of(pour(even(5.0 + 8 * k, parts=20), seed=k)).reasons
        pairs.keep()
    assert sum(len(one.pulses) for one in pairs._before) <= 60


def test_only_so_many_small_pours_are_kept(pairs: PourPairs) -> None:
    for k in range(9):
        assert not pairs.of(pour(even(5.0 + 8 * k, parts=3), seed=k)).reasons
        pairs.keep()
    assert len(pairs._before) == 6


def test_before_the_camera_has_begun_nothing_is_good() -> None:
    assert PourPairs(OUTLET).of(pour(even(5.0))).doubts


def test_a_pairing_that_breaks_is_told(pairs: PourPairs, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*words: object) -> None:
        raise ZeroDivisionError("broken on purpose")

    monkeypatch.setattr("viscount.session.pour_pairs.with_beam", breaks)
    found = pairs.of(pour(even(5.0)))
    assert found.reasons == ("the pairing broke: ZeroDivisionError: broken on purpose",)


@pytest.mark.parametrize(("of_last", "said"), [(False, False), (True, True)])
def test_small_chances_of_pours_before_do_not_add_up(
    pairs: PourPairs, monkeypatch: pytest.MonkeyPatch, of_last: bool, said: bool
) -> None:
    """Each pairing of one of two pours is wrong with a chance of 2 %: in six of them, 11 %."""
    assert not pairs.of(pour(even(5.0))).reasons
    pairs.keep()

    def unsure(*words: Any) -> Tally:
        tally = with_beam(*words)
        doubtful = [
            replace(one, pairing=replace(one.pairing, doubt=0.02, fewer=0.01))
            if (one.pairing.pulses[0] >= 6) is of_last
            else one
            for one in tally.pairings
        ]
        told = Reason(code=Code.PAIRINGS_UNSURE, text="look at 6 places: 1.000 s")
        return replace(tally, pairings=tuple(doubtful), reasons=(told,))

    monkeypatch.setattr("viscount.session.pour_pairs.with_beam", unsure)
    found = pairs.of(pour(even(25.0), seed=2))
    wanted = ("all pairings right with a chance of 89 %",) if said else ()
    assert (found.agreed, found.doubts) == (6, wanted)
