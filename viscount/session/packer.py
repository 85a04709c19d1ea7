"""Drives a packing machine: gate, beam, camera and person to it, its wishes to gate and journal."""

import logging
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from viscount.clock import Clock
from viscount.errors import ExitStatus, UsageError, ViscountError
from viscount.packing.actions import AskOpen, AskReady, AskShut, End, Say, Write
from viscount.packing.events import (
    BeamEdge,
    CameraSaw,
    CameraStands,
    Event,
    GateDid,
    HandCount,
    Pressed,
    Said,
    Word,
    Written,
)
from viscount.packing.machine import PackMachine
from viscount.packing.record import BagRecord
from viscount.packing.wording import said_of
from viscount.seams import GateTrigger
from viscount.session.gate_desk import GateDesk
from viscount.session.journal import Journal
from viscount.session.messages import Packing
from viscount.session.pour_pairs import Looks, PourPairs
from viscount.values import Passage

SHOWS_EVERY_NS = 100_000_000
GRACE_NS = 8_000_000_000
"""A pour that is to end has settled by then, or never will."""


_log = logging.getLogger("viscount.session")


class TriggerFailedError(ViscountError):
    """A gate's trigger broke: the run ends, and the coil is off by whoever keeps it off."""

    exit_status = ExitStatus.INVALID


@contextmanager
def _told() -> Iterator[None]:
    """Put what a trigger raises into words."""
    try:
        yield
    except ViscountError:
        raise
    except Exception as error:
        raise TriggerFailedError(
            f"the gate's trigger broke: {type(error).__name__}: {error}",
            remedy="take the coil's power off, set the bag aside, and report this to the owner of "
            "the trigger",
        ) from error


def _ask(trigger: GateTrigger, now_ns: int, wish: AskReady | AskOpen | AskShut) -> None:
    match wish:
        case AskReady():
            trigger.ready(now_ns, wish.wanted)
        case AskOpen():
            trigger.open(now_ns)
        case AskShut():
            trigger.shut(now_ns)


class Packer:
    """Packs the bags of one order, looked after by the engine's main thread.

    Parameters
    ----------
    machine : not yet begun.
    pairs : the machine's own.
    trigger : of the gate.
    desk : between the trigger and the beam line.
    journal : takes the records; a record that is not on the disk holds up everything.
    clock : of the host.
    tell : is handed how it stands.

    Attributes
    ----------
    ended : nothing more is to be done.
    """

    def __init__(
        self,
        machine: PackMachine,
        pairs: PourPairs,
        trigger: GateTrigger,
        desk: GateDesk,
        journal: Journal,
        clock: Clock,
        tell: Callable[[Packing], None],
    ) -> None:
        self.ended = False
        self.desk = desk
        self._machine = machine
        self._pairs = pairs
        self._trigger = trigger
        self._journal = journal
        self._clock = clock
        self._tell = tell
        self._lock = threading.Lock()
        self._pressed: list[Event] = []
        self._says: list[Say] = []
        self._record: BagRecord | None = None
        self._shown_ns = 0
        self._begun = False
        self._asked_ns: int | None = None

    def look_through(self, looks: Callable[[], Looks | None]) -> None:
        """Ask this for how the camera looks at the parts."""
        self._pairs.looks = looks

    def press(self, said: Said | HandCount) -> None:
        """Hear a person's word, or the hand count; from any thread."""
        with self._lock:
            self._pressed.append(said)

    def passed(self, now_ns: int, passages: Sequence[Passage]) -> None:
        """Take final passages."""
        for one in passages:
            self._step(now_ns, CameraSaw(passage=one))

    def tend(self, now_ns: int, camera: CameraStands) -> None:
        """Go on. To be called often: where it is not, the gate shuts.

        Raises
        ------
        UsageError : the bag is to be said to be in place by a switch that the board has not.
        TriggerFailedError : the trigger broke.
        """
        self._require_switch()
        if not self._begun:
            self._begun = True
            self._do(now_ns, self._machine.begin())
        with _told():
            limits = self._trigger.limits
        if limits is not None:
            self._machine.sees_shut = limits.sees_shut
        presses: list[Event] = []
        for event in self.desk.beam():
            if isinstance(event, Pressed):
                # Heard last, as a person's word is: after all that speaks against opening.
                presses.append(event)
                continue
            if isinstance(event, BeamEdge) and event.blocked:
                with _told():
                    self._trigger.head(now_ns)
            self._step(now_ns, event)
        with _told():
            reports = self._trigger.tend(now_ns)
        for report in reports:
            self._step(now_ns, GateDid(report=report))
        self._step(now_ns, camera)
        with self._lock:
            pressed, self._pressed = self._pressed, []
        for event in [*pressed, *presses]:
            self._step(now_ns, event)
        self._step(now_ns, None)
        if self._says or now_ns - self._shown_ns >= SHOWS_EVERY_NS:
            self._show(now_ns)

    def _require_switch(self) -> None:
        refusal = self.desk.no_switch
        if refusal is not None:
            raise UsageError(
                f"a board without a press switch (it answered `watch` with `no {refusal}`)",
                where="--bag-by board",
                allowed="a board whose firmware tells of a switch that is wired to it",
                remedy="say --bag-by enter, or see the page of the board's line for `watch`",
            )

    def close(self, now_ns: int) -> None:
        """Have the gate shut, and let go of it; harmless when repeated."""
        try:
            self._trigger.close(now_ns)
        except Exception:
            # The line to the board is closed next, and the lease with it.
            _log.exception("closing the gate's trigger")
        self._journal.close()

    def is_over(self, now_ns: int, *, asked: bool) -> bool:
        """Return whether the run may end: where that is asked, once the pour has settled."""
        if asked and not self.ended and self._asked_ns is None:
            self._asked_ns = now_ns
            self._step(now_ns, Said(word=Word.STOP))
        late = self._asked_ns is not None and now_ns - self._asked_ns > GRACE_NS
        return self.ended or late

    def _step(self, now_ns: int, event: Event | None) -> None:
        self._do(now_ns, self._machine.step(now_ns, event))

    def _do(self, now_ns: int, actions: Sequence[object]) -> None:
        for action in actions:
            match action:
                case AskReady() | AskOpen() | AskShut():
                    _log.info("the gate is asked: %s", action)
                    with _told():
                        _ask(self._trigger, now_ns, action)
                case Write():
                    self._journal.write(action.record, self._clock.date())
                    self._record = action.record
                    _log.info("%s", said_of(action.record))
                    self._show(now_ns)
                    self._step(now_ns, Written())
                case Say():
                    self._says.append(action)
                case End():
                    self.ended = True
                    self._show(now_ns)

    def _show(self, now_ns: int) -> None:
        machine = self._machine
        says, self._says = tuple(self._says), []
        record, self._record = self._record, None
        self._shown_ns = now_ns
        self._tell(
            Packing(
                says=says,
                record=record,
                phase=str(machine.stage or machine.phase),
                gate=str(self._trigger.state),
                bag=machine.bag,
                in_bag=machine.so_far,
                wanted=machine.wanted,
                held=machine.held,
                totals=machine.totals.so_far(),
                ended=self.ended,
            )
        )
