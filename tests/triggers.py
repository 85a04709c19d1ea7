"""Gate triggers with what they drive, in handed-in time, for the conformance kit."""

from collections.abc import Sequence

from viscount.devices.protocol.link import HostLink
from viscount.devices.triggers.serial import SerialOptions, SerialTrigger
from viscount.devices.triggers.simulated import SimulatedOptions, SimulatedTrigger
from viscount.seams import Fitting, GateTrigger
from viscount.session.gate_desk import GateDesk
from viscount.testing import FakeTrigger
from viscount.testing.board import BoardSettings, CoilChange, SimulatedBoard

MS = 1_000_000


class SerialRig:
    """The board's gate, over a link."""

    def __init__(self, settings: BoardSettings | None = None) -> None:
        self.board = SimulatedBoard(settings or BoardSettings(on_ms=2000))
        self.link = HostLink(0)
        self.desk = GateDesk()
        self.trigger: GateTrigger = SerialTrigger(SerialOptions(), Fitting(line=self.desk))

    @property
    def coil_log(self) -> Sequence[CoilChange]:
        return self.board.coil_log

    def live(self, now_ns: int, *, host: bool) -> None:
        if not host:
            self.board.step(now_ns, room=0)
            return
        self.desk.serve(now_ns, self.link)
        turn = self.link.turn(now_ns)
        self.desk.heard(now_ns, turn, self.link)
        said = self.board.step(now_ns, turn.to_send)
        self.desk.heard(now_ns, self.link.hear(now_ns, said), self.link)

    def part(self, t_ns: int) -> None:
        self.board.beam(t_ns, True)
        self.board.beam(t_ns + 8 * MS, False)


class HeadRig:
    """A trigger that counts heads in this process."""

    def __init__(self, trigger: SimulatedTrigger | FakeTrigger, *, own_board: bool) -> None:
        self.trigger: GateTrigger = trigger
        self._log = trigger
        self._own_board = own_board
        self._heads: list[int] = []

    @property
    def coil_log(self) -> Sequence[CoilChange]:
        return [CoilChange(t_ns=one.t_ns, on=one.on) for one in self._log.coil_log]

    def live(self, now_ns: int, *, host: bool) -> None:
        while self._heads and self._heads[0] <= now_ns and (host or self._own_board):
            head_ns = self._heads.pop(0)
            self.trigger.head(head_ns if self._own_board else now_ns)
        if isinstance(self.trigger, SimulatedTrigger):
            self.trigger.live(now_ns)

    def part(self, t_ns: int) -> None:
        self._heads.append(t_ns)


def simulated() -> HeadRig:
    made = SimulatedTrigger(SimulatedOptions(on_ms=2000), Fitting(seed=1))
    return HeadRig(made, own_board=True)


def fake() -> HeadRig:
    return HeadRig(FakeTrigger(), own_board=False)
