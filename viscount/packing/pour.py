"""One pour: the gate readied, opened once, shut by its own count or for a reason, and settled."""

from enum import StrEnum

from viscount.packing.actions import About, Action, AskOpen, AskReady, AskShut, Say
from viscount.packing.events import (
    BeamEdge,
    BeamLost,
    BeamWhole,
    CameraSaw,
    CameraStands,
    Event,
    GateDid,
)
from viscount.packing.evidence import Evidence
from viscount.packing.order import PackOrder
from viscount.seams import Did, GateReport, Readiness

_MS = 1_000_000
_ASK_AGAIN_NS = 100 * _MS
_WAIT_FOR = {"ready cooling": 60_000 * _MS, "ready no answer": 3000 * _MS}
"""What a gate is asked again for, and for how long: a coil that was on for long rests for long."""


class Stage(StrEnum):
    """How far a pour is."""

    READYING = "readying"
    OPENING = "opening"
    POURING = "pouring"
    SHUTTING = "shutting"
    SETTLING = "settling"
    SETTLED = "settled"


_BEFORE_OPEN = (Stage.READYING, Stage.OPENING)
_SHUT = (Stage.SHUTTING, Stage.SETTLING, Stage.SETTLED)


class Pour:
    """Lets out so many parts, once; all that was seen of it is its evidence.

    Parameters
    ----------
    now_ns : when it begins.
    parts : to be counted by the beam until the gate shuts.
    evidence : what is against it before it begins, or nothing.
    dark_ns : since when the beam is blocked, or None.

    Attributes
    ----------
    stage : how far it is.
    note : why it was shut, where that takes nothing from the count.
    out : what is to be done; whoever drives it takes it away.
    """

    def __init__(
        self,
        now_ns: int,
        order: PackOrder,
        parts: int,
        evidence: Evidence,
        dark_ns: int | None = None,
    ) -> None:
        self.stage = Stage.READYING
        self.evidence = evidence
        self.note = ""
        self.out: list[Action] = []
        self._order = order
        self._wanted = Readiness(
            count=parts,
            early=min(order.early, parts - 1),
            delay_us=order.delay_us,
            on_ms=order.on_ms,
            expiry_ms=order.expiry_ms,
        )
        self._since_ns = self._head_ns = now_ns
        self._dark_ns = dark_ns
        self._final_ns = -1
        self._readied = False
        self._again_ns: int | None = None
        self._whole_ns = -1
        self._ask_ready(now_ns)

    def step(self, now_ns: int, event: Event | None) -> None:
        """Take an event, or the time alone."""
        match event:
            case GateDid():
                self._gate(now_ns, event.report)
            case BeamEdge():
                self._edge(now_ns, event)
            case BeamLost():
                self.evidence.against(f"{event.edges} edges of the beam were lost")
            case BeamWhole():
                self._whole_ns = now_ns
            case CameraSaw():
                self.evidence.saw(event.passage, event.parts)
            case CameraStands():
                self._final_ns = event.final_ns
            case _:
                pass
        self._time(now_ns)

    def shut(self, now_ns: int, why: str) -> None:
        """Have the gate shut, whatever it was doing; that is against the pour."""
        self.evidence.against(why)
        self._shut(now_ns)

    def _ask_ready(self, now_ns: int) -> None:
        self._asked_ns = now_ns
        self.out.append(AskReady(wanted=self._wanted))

    def _gate(self, now_ns: int, report: GateReport) -> None:
        if report.did in (Did.OPENED, Did.SEEN_OPEN):
            self.evidence.opened = True
        match report.did:
            case Did.READIED if self.stage is Stage.READYING:
                self._readied = True
                if self.evidence.reasons:
                    # What is against it came before anything moved.
                    self._shut(now_ns)
                else:
                    self._go(now_ns, Stage.OPENING)
                    self.out.append(AskOpen())
            case Did.OPENED if self.stage is Stage.OPENING:
                self._head_ns = now_ns
                self._go(now_ns, Stage.POURING)
                text = f"gate open, ready for {self._wanted.count}"
                self.out.append(Say(about=About.STATE, text=text))
            case Did.OPENED if self.stage is not Stage.SHUTTING:
                self.shut(now_ns, "the gate opened unasked")
            case Did.SHUT:
                self.evidence.over = report
                self.evidence.seen_shut = False
                self._go(now_ns, Stage.SETTLING)
            case Did.SEEN_SHUT:
                self.evidence.seen_shut = True
            case Did.REFUSED if report.cause in _WAIT_FOR:
                self._again_ns = _WAIT_FOR[report.cause]
            case Did.REFUSED if self.stage in _BEFORE_OPEN:
                self.shut(now_ns, f"the gate refused: {report.cause}")
            case Did.FAULT:
                self.evidence.against(f"the gate met a fault: {report.cause}")
            case Did.LOST:
                self.evidence.against("the gate's board no longer answers, or restarted")
                if self.stage not in _SHUT:
                    self._shut(now_ns)
            case _:
                pass

    def _edge(self, now_ns: int, edge: BeamEdge) -> None:
        self._dark_ns = now_ns if edge.blocked else None
        self._whole_ns = -1
        if self.evidence.edge(edge.heard_ns, edge.device_t_us, blocked=edge.blocked):
            self._head_ns = now_ns
            if self.stage in _BEFORE_OPEN:
                self.evidence.against("a part passed before the gate was open")

    def _time(self, now_ns: int) -> None:
        """Do what the time alone brings."""
        waited_ns = now_ns - self._since_ns
        match self.stage:
            case Stage.READYING:
                self._await_ready(now_ns, waited_ns)
            case Stage.OPENING if waited_ns > self._order.patience_ns:
                self.shut(now_ns, "the gate did not say that it opened")
            case Stage.POURING:
                self._watch(now_ns)
            case Stage.SHUTTING if waited_ns > self._order.patience_ns or not self._readied:
                if self._readied:
                    self.evidence.against("the gate did not say that it shut")
                self._go(now_ns, Stage.SETTLING)
            case Stage.SETTLING:
                self._await_settled(now_ns, waited_ns)
            case _:
                pass

    def _await_ready(self, now_ns: int, waited_ns: int) -> None:
        if self._again_ns is not None:
            if waited_ns > self._again_ns:
                self.shut(now_ns, "the gate did not become ready")
            elif now_ns - self._asked_ns >= _ASK_AGAIN_NS:
                self._again_ns = None
                self._ask_ready(now_ns)
        elif now_ns - self._asked_ns > self._order.patience_ns:
            self.shut(now_ns, "the gate did not answer")

    def _watch(self, now_ns: int) -> None:
        order, dark_ns = self._order, self._dark_ns
        if dark_ns is not None:
            if now_ns - dark_ns > 1000 * order.longest_pulse_us:
                self.shut(now_ns, "jam: the beam is blocked for longer than by any part")
        elif now_ns - self._head_ns > order.empty_ns:
            self.note = (
                f"the gate was open and nothing came for {order.empty_ms} ms: the magazine is "
                "empty, or jammed above the beam"
            )
            self._shut(now_ns)

    def _shut(self, now_ns: int) -> None:
        self.out.append(AskShut())
        if self.stage not in _SHUT:
            self._go(now_ns, Stage.SHUTTING)

    def _await_settled(self, now_ns: int, waited_ns: int) -> None:
        settle_ns = self._order.settle_ns
        if waited_ns < settle_ns:
            return
        late_ns = self._since_ns + settle_ns // 2
        beam, camera = self._whole_ns >= late_ns, self._final_ns >= late_ns
        if not (beam and camera):
            if waited_ns < settle_ns + self._order.patience_ns:
                return
            silent = "the camera" if beam else "the beam's board"
            self.evidence.against(f"{silent} did not tell what came in the end")
        self._go(now_ns, Stage.SETTLED)

    def _go(self, now_ns: int, stage: Stage) -> None:
        self.stage, self._since_ns = stage, now_ns
