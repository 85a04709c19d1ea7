"""A settled pour, judged: good takes everything, and each single thing against it is enough."""

from dataclasses import dataclass, replace

import pytest
from bag_records import RECORD
from packing_rig import WAY, order
from tallies import passage

from viscount.packing.evidence import Evidence
from viscount.packing.judging import MOST_DOUBT, Judged, judged, result_of
from viscount.packing.paired import Paired, PourSeen
from viscount.packing.record import Result
from viscount.seams import Did, GateReport, Keeper

ORDER = order()
SHUT_US = 1_000_000
PARTS = 6


@dataclass
class Pairs:
    """Brings passages and pulses together in order; or says what it is to say."""

    says: Paired | None = None
    kept: int = 0

    def of(self, seen: PourSeen) -> Paired:
        return self.says or Paired(agreed=len(seen.pulses))

    def keep(self) -> None:
        self.kept += 1

    def forget(self) -> None:
        raise AssertionError("judging forgets nothing")


def over(**changes: object) -> GateReport:
    report = GateReport(heard_ns=0, did=Did.SHUT, device_t_us=SHUT_US, cause="count", count=PARTS)
    return replace(report, **changes)  # type: ignore[arg-type]


def evidence(*heads_us: int, doubt: float = 0.0) -> Evidence:
    """Six parts, the last well before the gate shuts; or parts at these times from its shutting."""
    one = Evidence()
    for head_us in heads_us or [-80_000 * k - 100_000 for k in range(PARTS, 0, -1)]:
        one.edge(0, SHUT_US + head_us, blocked=True)
        one.edge(0, SHUT_US + head_us + 8000, blocked=False)
        one.saw(passage(1, 1.0, doubt=doubt / PARTS).passage, 1)
    one.over = over(count=one.heads)
    one.opened = one.seen_shut = True
    return one


def judge(one: Evidence, pairs: Pairs | None = None, **changes: object) -> Judged:
    chosen = replace(ORDER, **changes) if changes else ORDER  # type: ignore[arg-type]
    return judged(one, chosen, pairs or Pairs(), held=0, sees_shut=True)


def test_with_nothing_against_it_all_fell_and_the_pour_is_gone_by() -> None:
    pairs = Pairs()
    found = judge(evidence(), pairs)
    assert (found.fell, found.held, found.beam, found.reasons) == (PARTS, 0, PARTS, ())
    assert result_of(found, in_bag=PARTS, wanted=PARTS) is Result.GOOD
    assert pairs.kept == 1


def lease(one: Evidence) -> None:
    one.over = over(cause="lease")


def jam(one: Evidence) -> None:
    one.over = over(cause="jam")


def counted_5(one: Evidence) -> None:
    one.over = over(count=PARTS - 1)


def counted_7(one: Evidence) -> None:
    one.over = over(count=PARTS + 1)


def never_shut(one: Evidence) -> None:
    one.over = None


def no_time(one: Evidence) -> None:
    one.over = over(device_t_us=None)


def blade_unseen(one: Evidence) -> None:
    one.seen_shut = False


def dark(one: Evidence) -> None:
    one.edge(0, SHUT_US + 900_000, blocked=True)


def camera_more(one: Evidence) -> None:
    one.saw(passage(1, 1.0).passage, 1)


def went_up(one: Evidence) -> None:
    one.saw(passage(1, 1.0).passage, -1)
    one.saw(passage(1, 1.0).passage, 1)


AGAINST = [
    (lease, "the gate was shut for another cause: lease"),
    (jam, "the gate was shut for another cause: jam"),
    (counted_5, "the board counted 5 parts, its edges tell of 6"),
    (counted_7, "the board counted 7 parts, its edges tell of 6"),
    (never_shut, "nobody told that the gate shut"),
    (no_time, "nobody told when the gate shut"),
    (blade_unseen, "the blade was not seen shut"),
    (dark, "the beam is blocked"),
    (camera_more, "the camera counted 7, by the beam 6 fell"),
    (went_up, "a part went back up past the camera's line"),
]


@pytest.mark.parametrize(("spoil", "why"), AGAINST)
def test_each_single_thing_is_enough(spoil, why: str) -> None:
    one, pairs = evidence(), Pairs()
    spoil(one)
    found = judge(one, pairs)
    assert found.fell is None
    assert found.held is None
    assert [reason for reason in found.reasons if reason.startswith(why)], found.reasons
    assert result_of(found, in_bag=found.fell, wanted=PARTS) is Result.UNSURE
    assert pairs.kept == 0, "a pour that is not sure must not teach the next ones"


def test_the_board_counts_until_its_gate_is_shut_and_edges_behind_are_no_contradiction() -> None:
    one = evidence(-300_000, -200_000, 60_000)
    one.over = over(count=2)
    found = judge(one)
    assert (found.fell, found.held, found.reasons) == (2, 1, ())


@pytest.mark.parametrize("doubt", [0.9 * MOST_DOUBT, 1.1 * MOST_DOUBT])
def test_small_chances_of_the_camera_add_up(doubt: float) -> None:
    found = judge(evidence(doubt=doubt))
    assert (found.fell == PARTS) is (doubt < MOST_DOUBT)
    assert ("the camera's count is wrong" in " ".join(found.reasons)) is (doubt > MOST_DOUBT)


def test_what_the_pairing_doubts_counts_though_all_totals_agree() -> None:
    pairs = Pairs(says=Paired(agreed=5, camera_only=1, beam_only=1))
    found = judge(evidence(), pairs)
    assert (found.fell, pairs.kept, len(found.reasons)) == (None, 0, 2)


def test_a_gate_that_only_this_process_keeps_shut_makes_nothing_sure() -> None:
    assert judge(evidence(), keeper=Keeper.PROCESS).fell is None


REACH, SHUT = WAY.reach_us, WAY.shut_us
LAST_PAST = REACH - WAY.most_us - 8000
FIRST_HELD = SHUT - WAY.least_us


@pytest.mark.parametrize(
    ("head_us", "past", "held", "pinched"),
    [
        (LAST_PAST, 1, 0, False),
        (LAST_PAST + 1, None, None, True),
        (FIRST_HELD - 1, None, None, True),
        (FIRST_HELD, 0, 1, False),
    ],
)
def test_a_part_is_past_by_its_tail_and_held_by_its_head_and_between_maybe_pinched(
    head_us: int, past: int | None, held: int | None, pinched: bool
) -> None:
    one = evidence(head_us)
    one.over = over(count=one.heads if head_us <= 0 else 0)
    found = judge(one)
    assert (found.fell, found.held, found.pinched) == (past, held, pinched)
    if pinched:
        assert result_of(found, in_bag=found.fell, wanted=1) is Result.PINCHED


@pytest.mark.parametrize(
    ("bag", "by_hand", "passed"), [(0, None, False), (0, 5, False), (0, 6, True), (1, None, True)]
)
def test_a_check_pour_passes_only_where_the_hand_counted_the_same(
    bag: int, by_hand: int | None, passed: bool
) -> None:
    assert replace(RECORD, bag=bag, by_hand=by_hand).passed is passed
    assert not replace(RECORD, bag=bag, by_hand=by_hand, result=Result.UNSURE).passed
