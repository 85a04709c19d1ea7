"""What holds of the packing machine whatever happens: the gate opens by a person's word alone."""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from packing_rig import ORDER
from tallies import passage

from viscount.packing.actions import AskOpen, AskReady, AskShut, End, Write
from viscount.packing.events import (
    BeamEdge,
    BeamLost,
    BeamWhole,
    BoardHeard,
    CameraSaw,
    CameraStands,
    Event,
    GateDid,
    HandCount,
    Pressed,
    Said,
    SwitchLost,
    Word,
    Written,
)
from viscount.packing.machine import PackMachine, Phase
from viscount.packing.order import BagBy, PackOrder
from viscount.packing.paired import Paired, PourSeen
from viscount.packing.record import BagRecord, Result
from viscount.seams import Did, GateReport
from viscount.values import Direction

MS = 1_000_000
CAUSES = {
    Did.SHUT: ("count", "asked", "lease", "limit", "expiry", "number", "jam"),
    Did.REFUSED: ("ready cooling", "ready fault", "ready no answer", "open counted"),
    Did.FAULT: ("jam", "lease", "limit"),
}


class ByTotals:
    """Pairs whatever comes, in order."""

    def of(self, seen: PourSeen) -> Paired:
        both = min(len(seen.passages), len(seen.pulses))
        return Paired(
            agreed=both,
            camera_only=len(seen.passages) - both,
            beam_only=len(seen.pulses) - both,
        )

    def keep(self) -> None:
        pass

    def forget(self) -> None:
        pass


class Packing(RuleBasedStateMachine):
    """Tells the machine anything in any order, and keeps account of its wishes apart from it."""

    @initialize(check=st.none() | st.just(4), bags=st.integers(1, 4), bag_by=st.sampled_from(BagBy))
    def begin(self, check: int | None, bags: int, bag_by: BagBy) -> None:
        order = PackOrder(
            each=6,
            bags=bags,
            part="screw",
            way=ORDER.way,
            check=check,
            settle_ms=200,
            bag_by=bag_by,
        )
        self.by_switch = bag_by is BagBy.BOARD
        self.waiting_ns: int | None = None
        self.machine = PackMachine(order, ByTotals())
        self.now_ns = 0
        self.device_us = 0
        self.final_ns = 0
        self.blind_s = 0.0
        self.words = 0
        self.opens = 0
        self.maybe_open = False
        self.last: BagRecord | None = None
        self.waits_for_written = False
        self.needs_person = False
        self.ended = False
        self.take(self.machine.begin())

    def take(self, actions: list) -> None:
        for action in actions:
            assert not self.ended, "nothing is wanted after the end"
            match action:
                case AskOpen():
                    self.opens += 1
                    self.maybe_open = True
                    assert not self.needs_person, "opened after a doubt without a person"
                    assert not self.waits_for_written, "opened before the record was on the disk"
                    assert self.machine.phase is Phase.POURING
                case AskReady():
                    assert not self.needs_person
                case AskShut():
                    self.maybe_open = False
                case Write():
                    self.last = action.record
                    self.waits_for_written = True
                    self.needs_person = not action.record.passed
                case End():
                    self.ended = True

    def tell(self, event: Event | None) -> None:
        self.take(self.machine.step(self.now_ns, event))
        if self.machine.phase is not Phase.WAITING:
            self.waiting_ns = None
        elif self.waiting_ns is None:
            self.waiting_ns = self.now_ns

    @rule(word=st.sampled_from(Word), right_bag=st.booleans())
    def say(self, word: Word, right_bag: bool) -> None:
        bag = self.machine.bag if right_bag else self.machine.bag + 1
        if right_bag and self.machine.phase is Phase.ATTENTION:
            short = self.last is not None and self.last.result is Result.SHORT
            if word is Word.ASIDE or (word is Word.TOP_UP and short):
                self.needs_person = False
        asks = {Phase.ATTENTION: Word.TOP_UP}
        if not self.by_switch:
            asks[Phase.WAITING] = Word.BAG
        if right_bag and asks.get(self.machine.phase) is word:
            self.words += 1
        self.tell(Said(word=word, bag=bag))

    @rule(ago_ms=st.sampled_from([0, 1, 60, 300, 600, 3000]))
    def press(self, ago_ms: int) -> None:
        """The switch was pressed so long ago: only one that is fresh, while a bag is waited for."""
        at_ns = self.now_ns - ago_ms * MS
        waits = self.machine.phase is Phase.WAITING and self.waiting_ns is not None
        if self.by_switch and waits and at_ns > (self.waiting_ns or 0) and ago_ms <= 500:
            self.words += 1
        self.tell(Pressed(at_ns=at_ns))

    @rule(heard=st.booleans(), before=st.booleans())
    def board_heard(self, heard: bool, before: bool) -> None:
        self.tell(BoardHeard(heard=heard, before=before))

    @rule(changes=st.integers(1, 3))
    def switch_lost(self, changes: int) -> None:
        self.tell(SwitchLost(changes=changes))

    @rule(count=st.integers(0, 8))
    def hand_count(self, count: int) -> None:
        self.tell(HandCount(count=count))

    @rule(did=st.sampled_from(Did), data=st.data(), count=st.integers(0, 9))
    def gate(self, did: Did, data: st.DataObject, count: int) -> None:
        cause = data.draw(st.sampled_from(CAUSES.get(did, ("",))))
        if did is Did.SHUT:
            self.maybe_open = False
        told = count if did is Did.SHUT else None
        report = GateReport(
            heard_ns=self.now_ns, did=did, device_t_us=self.device_us, cause=cause, count=told
        )
        self.tell(GateDid(report=report))

    @rule(blocked=st.booleans(), after_us=st.integers(1, 400_000))
    def beam(self, blocked: bool, after_us: int) -> None:
        self.device_us = (self.device_us + after_us) % 2**32
        self.tell(BeamEdge(heard_ns=self.now_ns, device_t_us=self.device_us, blocked=blocked))

    @rule(parts=st.integers(1, 7))
    def good_pour(self, parts: int) -> None:
        """So many parts the way they should come, as far as the machine is open to them."""
        self.gate_did(Did.READIED)
        self.gate_did(Did.OPENED)
        for _ in range(parts):
            self.pass_ms(80)
            self.device_us = (self.device_us + 80_000) % 2**32
            for blocked, us in ((True, 0), (False, 8_000)):
                t_us = (self.device_us + us) % 2**32
                self.tell(BeamEdge(heard_ns=self.now_ns, device_t_us=t_us, blocked=blocked))
            self.camera(1, 0.0)
        self.device_us = (self.device_us + 60_000) % 2**32
        self.maybe_open = False
        self.gate_did(Did.SHUT, "count", parts)
        for _ in range(3):
            self.pass_ms(100)
            self.tell(BeamWhole(heard_ns=self.now_ns, device_t_us=self.device_us))
            self.final_ns = self.now_ns
            self.stands("")
        self.written()

    def gate_did(self, did: Did, cause: str = "", count: int | None = None) -> None:
        report = GateReport(
            heard_ns=self.now_ns, did=did, device_t_us=self.device_us, cause=cause, count=count
        )
        self.tell(GateDid(report=report))

    @rule(edges=st.integers(1, 3))
    def lost(self, edges: int) -> None:
        self.tell(BeamLost(heard_ns=self.now_ns, edges=edges))

    @rule(parts=st.sampled_from([-1, 0, 1, 2]), doubt=st.sampled_from([0.0, 0.001, 0.3]))
    def camera(self, parts: int, doubt: float) -> None:
        way = Direction.AGAINST if parts < 0 else Direction.WITH
        one = passage(1, 1e-9 * self.now_ns, parts=abs(parts), direction=way, doubt=doubt)
        self.tell(CameraSaw(passage=one.passage))

    @rule(trouble=st.sampled_from(["", "", "it hangs"]))
    def stands(self, trouble: str) -> None:
        self.tell(CameraStands(final_ns=self.final_ns, blind_s=self.blind_s, trouble=trouble))

    @rule()
    def blind(self) -> None:
        self.blind_s += 0.1
        self.stands("")

    @rule()
    def written(self) -> None:
        if self.waits_for_written:
            self.waits_for_written = False
            self.tell(Written())

    @rule(ms=st.sampled_from([1, 50, 400, 4000]))
    def pass_ms(self, ms: int) -> None:
        self.now_ns += ms * MS
        self.tell(None)

    @invariant()
    def never_opens_unasked(self) -> None:
        if hasattr(self, "machine"):
            assert self.opens <= self.words

    @invariant()
    def is_not_open_between_pours(self) -> None:
        if hasattr(self, "machine") and self.machine.phase is not Phase.POURING:
            assert not self.maybe_open, "left open"

    @invariant()
    def good_is_what_both_counted(self) -> None:
        last = getattr(self, "last", None)
        if last is not None and last.result is Result.GOOD:
            assert last.in_bag == last.wanted
            assert not last.reasons
            assert last.held is not None


Packing.TestCase.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
TestPacking = Packing.TestCase
