"""Packing bags: a machine that waits for a person's word, pours once, judges, and writes it down.

Times are handed in. A word opens the gate once: the pour it begins has one opening. After anything
but a good bag the machine waits for a person, whatever else happens.
"""

from enum import StrEnum

from viscount.packing.actions import About, Action, AskShut, End, Say, Write
from viscount.packing.bag import Bag
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
from viscount.packing.evidence import Evidence
from viscount.packing.judging import judged
from viscount.packing.order import BagBy, PackOrder
from viscount.packing.paired import Pairs
from viscount.packing.pour import Pour, Stage
from viscount.packing.press import why_not
from viscount.packing.record import BagRecord
from viscount.packing.totals import Totals
from viscount.packing.wording import said_of, wants_of
from viscount.seams import Did, GateReport


class Phase(StrEnum):
    """What the machine is at."""

    WAITING = "waiting for a bag"
    POURING = "pouring"
    HAND = "waiting for the hand count"
    WRITING = "writing"
    ATTENTION = "waiting for a person"
    ENDED = "ended"


class PackMachine:
    """Packs the bags of one order.

    Parameters
    ----------
    order : what is to be packed.
    pairs : brings both counters of a pour together.

    Attributes
    ----------
    phase : what it is at.
    totals : of the bags so far.
    held : parts on the blade, as far as is known.
    sees_shut : a sensor sees the blade; to be set once the gate's limits are known.
    """

    def __init__(self, order: PackOrder, pairs: Pairs) -> None:
        self.order = order
        self.phase = Phase.WAITING
        self.totals = Totals(packed=order.packed)
        self.held = 0
        self.sees_shut = False
        self._pairs = pairs
        self._bag = self._new_bag(order.first_bag if order.check is None else 0)
        self._pour: Pour | None = None
        self._record: BagRecord | None = None
        self._blind_s: float | None = None
        self._trouble = ""
        self._dark_ns: int | None = None
        self._now_ns: int | None = None
        self._waits_ns: int | None = None
        self._strays: list[str] = []
        self._paused = self._stopping = False
        self._out: list[Action] = []

    @property
    def bag(self) -> int:
        """The number of the bag under the outlet; 0 for the check pour."""
        return self._bag.number

    @property
    def wanted(self) -> int:
        """Parts that this bag is to have."""
        return self._bag.wanted

    @property
    def heads(self) -> int:
        """Parts that the beam saw in the pour that goes on."""
        return 0 if self._pour is None else self._pour.evidence.heads

    @property
    def so_far(self) -> int:
        """Parts in the bag so far: by both counters from earlier pours, by the beam in this one."""
        return (self._bag.in_bag or 0) + self.heads

    @property
    def stage(self) -> Stage | None:
        """How far the pour is that goes on."""
        return None if self._pour is None else self._pour.stage

    def begin(self) -> list[Action]:
        """Say what is wanted first."""
        self._await_bag(first=True)
        return self._taken()

    def step(self, now_ns: int, event: Event | None = None) -> list[Action]:
        """Take an event, or the time alone; return what is to be done, in that order."""
        if self.phase is Phase.ENDED:
            return []
        self._now_ns = now_ns
        if self._waits_ns is None:
            # The first bag was asked for before anybody told what time it is.
            self._waits_ns = now_ns
        self._watch_all(now_ns, event)
        if self._pour is not None:
            self._pour.step(now_ns, event)
            self._poured(self._pour)
        else:
            self._between(event)
        match event:
            case Said() if event.bag in (None, self._bag.number):
                self._word(now_ns, event.word)
            case Pressed() if self._by_switch:
                self._pressed(now_ns, event.at_ns)
            case SwitchLost() if self._by_switch:
                lost = f"{event.changes} changes of the switch were lost"
                self._say(About.TROUBLE, f"{lost}: it opens nothing before it is pressed again")
            case BoardHeard():
                self._board_heard(event)
            case HandCount() if self.phase is Phase.HAND:
                self._bag.by_hand = event.count
                self._write()
            case Written() if self.phase is Phase.WRITING:
                self._written()
            case _:
                pass
        return self._taken()

    def _word(self, now_ns: int, word: Word) -> None:
        match word:
            case Word.STOP:
                self._stop(now_ns)
            case Word.PAUSE:
                self._paused = True
                self._say(About.STATE, "paused: the gate opens for no bag until you go on")
            case Word.GO_ON:
                self._paused = False
                self._say(About.STATE, "going on")
            case Word.BAG if self._by_switch:
                self._say(About.WANTS, "the board's switch says that a bag is in place, not Enter")
            case Word.BAG if self.phase is Phase.WAITING:
                self._begin_pour(now_ns, self._bag.wanted)
            case Word.TOP_UP if self.phase is Phase.ATTENTION and self._can_top_up:
                self._begin_pour(now_ns, self._bag.missing)
            case Word.TOP_UP if self.phase is Phase.ATTENTION:
                self._say(About.WANTS, "this bag can't be topped up; set it aside")
            case Word.ASIDE if self.phase is Phase.ATTENTION:
                self.held = 0
                self._strays.clear()
                # Somebody looked: a fault of the gate is taken note of.
                self._out.append(AskShut())
                self._next(cleared=True)
            case _:
                pass

    @property
    def _by_switch(self) -> bool:
        return self.order.bag_by is BagBy.BOARD

    def _pressed(self, now_ns: int, at_ns: int) -> None:
        """Take a press for "bag in place" where one is waited for; else say why not.

        After anything but a good bag it is a person at the keys who goes on, never the switch.
        """
        waits_ns = self._waits_ns if self.phase is Phase.WAITING else None
        why = why_not(at_ns=at_ns, now_ns=now_ns, waits_since_ns=waits_ns)
        if self.phase is Phase.ATTENTION:
            why = "go on by the keys"
        if why:
            self._say(About.WANTS, f"the switch was pressed, and opens nothing: {why}")
        else:
            self._begin_pour(now_ns, self._bag.wanted)

    def _board_heard(self, event: BoardHeard) -> None:
        """Say that the board fell silent; with the switch, go on by the keys only.

        Somebody is at its cable, and a press as it is plugged in again would open the gate.
        """
        if event.heard:
            self._say(About.STATE, "the board is heard again")
            return
        text = "the board says nothing: look at its cable and its power; no pour begins meanwhile"
        if event.before and self._by_switch and self.phase is Phase.WAITING:
            self._attend(text)
        else:
            self._say(About.TROUBLE, text)

    def _stop(self, now_ns: int) -> None:
        self._stopping = True
        if self._pour is not None:
            self._pour.shut(now_ns, "the run was stopped during the pour")
            self._poured(self._pour)
        elif self.phase is Phase.HAND:
            self._write()
        elif self.phase is not Phase.WRITING:
            self._end()

    def _begin_pour(self, now_ns: int, parts: int) -> None:
        """Begin a pour; only a person's word leads here."""
        if self._paused:
            self._say(About.WANTS, "paused: go on first")
            return
        from_beam = parts - self.held
        if from_beam < 1:
            self._attend(f"{self.held} parts lie on the blade, and {parts} are wanted")
            return
        evidence = Evidence()
        if self._trouble:
            evidence.against(f"the camera: {self._trouble}")
        if self._dark_ns is not None:
            evidence.against("the beam was blocked before the gate opened")
        self._bag.pours += 1
        self._pour = Pour(now_ns, self.order, from_beam, evidence, self._dark_ns)
        self.phase = Phase.POURING
        self._poured(self._pour)

    def _poured(self, pour: Pour) -> None:
        """Take what the pour wants done; judge it once it has settled."""
        self._out += pour.out
        pour.out.clear()
        if pour.stage is not Stage.SETTLED:
            return
        one = judged(
            pour.evidence, self.order, self._pairs, held=self.held, sees_shut=self.sees_shut
        )
        self._bag.poured(one, pour.evidence.camera, pour.note)
        self._pour = None
        self.held = one.held or 0
        if self._bag.number == 0 and not self._stopping:
            self.phase = Phase.HAND
            self._say(About.WANTS, "count this check pour by hand, and say how many there are")
        else:
            self._write()

    def _watch_all(self, now_ns: int, event: Event | None) -> None:
        """Note how beam and camera stand, pour or no pour."""
        if isinstance(event, BeamEdge | BeamWhole):
            if not event.blocked:
                self._dark_ns = None
            elif self._dark_ns is None:
                self._dark_ns = now_ns
        elif isinstance(event, CameraStands):
            before, self._blind_s = self._blind_s, event.blind_s
            if event.trouble and event.trouble != self._trouble:
                self._against(f"the camera: {event.trouble}")
                if self._pour is not None:
                    # Nobody judges any more what falls.
                    self._pour.shut(now_ns, f"the camera: {event.trouble}")
            self._trouble = event.trouble
            if before is not None and event.blind_s > before:
                self._pairs.forget()
                self._against("the camera was blind for a while")

    def _between(self, event: Event | None) -> None:
        """Watch a gate that is to be shut."""
        match event:
            case BeamEdge(blocked=True):
                self._stray("the beam saw a part while the gate was shut")
            case CameraSaw() if event.parts or event.doubt:
                self._stray("the camera saw a part while the gate was shut")
            case BeamLost():
                self._stray(f"{event.edges} edges of the beam were lost while the gate was shut")
            case GateDid():
                self._gate_between(event.report)
            case _:
                pass

    def _gate_between(self, report: GateReport) -> None:
        if report.did is Did.OPENED:
            self._out.append(AskShut())
            self._stray("the gate opened unasked")
        elif report.did is Did.SEEN_OPEN:
            self._stray("the blade moved while the gate was to be shut")
        elif report.did in (Did.FAULT, Did.LOST):
            self._stray(f"the gate: {report.did} {report.cause}".rstrip())

    def _stray(self, text: str) -> None:
        """Something happened at a shut gate that is no part of any pour: a person must look."""
        if self.phase is Phase.WAITING:
            self._attend(text)
        else:
            self._strays.append(text)
            self._say(About.TROUBLE, text)

    def _against(self, reason: str) -> None:
        """Note what is against the pour that goes on; between pours it is only told."""
        if self._pour is not None:
            self._pour.evidence.against(reason)
        else:
            self._say(About.TROUBLE, reason)

    def _write(self) -> None:
        self._record = self._bag.record()
        self.phase = Phase.WRITING
        self._out.append(Write(record=self._record))

    def _written(self) -> None:
        record = self._record
        assert record is not None
        self.totals.take(record)
        self._say(About.RESULT, said_of(record))
        if self._stopping:
            self._end()
        elif record.passed and not self._strays:
            self._next(cleared=False)
        else:
            self._attend("")

    def _attend(self, why: str) -> None:
        """Wait for a person."""
        self.phase = Phase.ATTENTION
        self._strays.clear()
        if why:
            self._say(About.TROUBLE, why)
        name = "the check pour" if self._bag.number == 0 else f"bag {self._bag.number}"
        can = "; or leave it in place and top it up" if self._can_top_up else ""
        self._say(About.WANTS, f"set {name} aside, and look at outlet and blade{can}")

    @property
    def _can_top_up(self) -> bool:
        return self._bag.can_top_up(self.held)

    def _next(self, *, cleared: bool) -> None:
        """Go on to the next bag; a check pour that did not pass comes again."""
        record, self._record = self._record, None
        if self._bag.number:
            self._bag = self._new_bag(self._bag.number + (self._bag.pours > 0))
        elif record is not None and record.passed:
            self._bag = self._new_bag(self.order.first_bag)
        else:
            self._bag = self._new_bag(0)
        self._await_bag(first=cleared)

    def _await_bag(self, *, first: bool) -> None:
        if self.totals.packed >= self.order.bags:
            self._end()
            return
        self.phase = Phase.WAITING
        self._waits_ns = self._now_ns
        text = wants_of(self._bag, self.held, first=first, switch=self._by_switch)
        self._say(About.WANTS, text)

    def _new_bag(self, number: int) -> Bag:
        wanted = self.order.each if number else self.order.check or self.order.each
        return Bag(number=number, wanted=wanted, part=self.order.part)

    def _end(self) -> None:
        self.phase = Phase.ENDED
        self._out += [AskShut(), End()]

    def _say(self, about: About, text: str) -> None:
        self._out.append(Say(about=about, text=text))

    def _taken(self) -> list[Action]:
        taken, self._out = self._out, []
        return taken
