"""Between trigger and link: the lease follows whoever drives the gate, and nothing is lost."""

import pytest
from triggers import SerialRig

from viscount.devices.protocol.line import Line
from viscount.devices.protocol.words import Refusal
from viscount.packing.events import (
    BeamEdge,
    BeamLost,
    BeamWhole,
    BoardHeard,
    Pressed,
    SwitchLost,
)
from viscount.seams import Did, GateState, Readiness
from viscount.session.gate_desk import GateDesk
from viscount.testing.board import BoardSettings, SimulatedBoard

MS = 1_000_000
WANTED = Readiness(count=3, delay_us=10_000, on_ms=1500, expiry_ms=900)


def live(rig: SerialRig, from_ms: int, to_ms: int, *, tends: bool = True) -> list:
    reports = []
    for ms in range(from_ms, to_ms):
        rig.live(ms * MS, host=True)
        if tends:
            reports += rig.trigger.tend(ms * MS)
    return reports


def opened() -> SerialRig:
    rig = SerialRig(BoardSettings(duty_percent=100))
    live(rig, 0, 50)
    rig.trigger.ready(50 * MS, WANTED)
    live(rig, 50, 60)
    trigger = rig.trigger
    trigger.open(60 * MS)
    live(rig, 60, 100)
    assert rig.trigger.state is GateState.OPEN
    return rig


def test_whoever_no_longer_looks_after_the_gate_loses_it_while_the_line_goes_on() -> None:
    rig = opened()
    live(rig, 100, 400, tends=False)
    off = rig.board.coil_log[-1]
    assert not off.on
    # 150 ms of patience, then it is asked to shut: no fault, and within the lease.
    assert 245 * MS <= off.t_ns <= 255 * MS
    (shut,) = [one for one in rig.trigger.tend(400 * MS) if one.did is Did.SHUT]
    assert shut.cause == "asked"
    assert not rig.link.holding


def test_the_lease_is_held_from_ready_until_it_is_over_and_no_longer() -> None:
    rig = SerialRig(BoardSettings(duty_percent=100))
    live(rig, 0, 50)
    assert not rig.link.holding
    rig.trigger.ready(50 * MS, WANTED)
    live(rig, 50, 400)
    assert rig.link.holding
    rig.trigger.shut(400 * MS)
    live(rig, 400, 420)
    assert not rig.link.holding


def test_a_board_that_is_not_linked_refuses_for_now() -> None:
    rig = SerialRig()
    rig.trigger.ready(0, WANTED)
    (report,) = rig.trigger.tend(0)
    assert (report.did, report.cause) == (Did.REFUSED, "ready no answer")
    assert rig.trigger.state is GateState.UNKNOWN
    assert rig.trigger.limits is None


def test_a_readiness_asks_for_no_more_than_the_board_allows() -> None:
    rig = SerialRig(BoardSettings(duty_percent=100, on_ms=1000))
    live(rig, 0, 50)
    assert rig.trigger.limits is not None
    assert (rig.trigger.limits.on_ms, rig.trigger.limits.sees_shut) == (1000, True)
    rig.trigger.ready(50 * MS, WANTED)
    reports = live(rig, 50, 70)
    assert [one.did for one in reports] == [Did.READIED]


def test_edges_totals_and_losses_come_in_order() -> None:
    rig = SerialRig()
    live(rig, 0, 50)
    rig.desk.beam()
    rig.part(60 * MS)
    live(rig, 50, 300)
    told = rig.desk.beam()
    edges = [one for one in told if isinstance(one, BeamEdge)]
    assert [one.blocked for one in edges] == [True, False]
    assert edges[1].device_t_us - edges[0].device_t_us == 8000
    assert isinstance(told[-1], BeamWhole)
    assert not [one for one in told if isinstance(one, BeamLost)]


def test_a_restart_is_told_as_a_loss_and_the_board_is_asked_no_more() -> None:
    rig = opened()
    rig.board.reset(100 * MS)
    reports = live(rig, 100, 140)
    assert Did.LOST in [one.did for one in reports]
    rig_state = rig.trigger.state
    assert rig_state in (GateState.IDLE, GateState.UNKNOWN)
    assert not rig.link.holding
    assert [one.on for one in rig.coil_log] == [True, False]


def test_what_a_board_is_outlasts_any_wait_for_the_camera() -> None:
    """Totals come five times a second for as long as nobody drives the gate."""
    rig = SerialRig()
    for ms in range(0, 2_000_000, 100):
        rig.live(ms * MS, host=True)
    rig.trigger.tend(2_000_000 * MS)
    assert rig.trigger.state is GateState.IDLE
    assert rig.trigger.limits is not None
    assert rig.trigger.limits.sees_shut


def watching(settings: BoardSettings | None = None) -> SerialRig:
    rig = SerialRig(settings)
    rig.desk = GateDesk(switch=True)
    return rig


def presses(rig: SerialRig) -> list[float]:
    told = rig.desk.beam()
    assert not [one for one in told if isinstance(one, SwitchLost)], "nothing was lost"
    return [one.at_ns / MS for one in told if isinstance(one, Pressed)]


def test_the_switch_is_watched_from_the_first_link_on_and_again_after_a_restart() -> None:
    rig = watching()
    live(rig, 0, 50)
    rig.board.press(60 * MS)
    rig.board.press(160 * MS, False)
    live(rig, 50, 300)
    assert presses(rig) == [pytest.approx(60, abs=2)]
    rig.board.reset(300 * MS)
    live(rig, 300, 400)
    rig.board.press(450 * MS)
    live(rig, 400, 800)
    assert presses(rig) == [pytest.approx(450, abs=2)]
    assert rig.desk.no_switch is None


def test_nobody_asks_for_the_switch_where_it_says_nothing() -> None:
    rig = SerialRig(BoardSettings(switch=False))
    live(rig, 0, 100)
    rig.board.press(101 * MS)
    live(rig, 100, 400)
    assert rig.desk.no_switch is None
    assert presses(rig) == []


@pytest.mark.parametrize("older", [False, True])
def test_a_board_without_a_switch_says_so(older: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if older:
        right = SimulatedBoard._do

        def do(self: SimulatedBoard, t_ns: int, line: Line, message: object) -> Refusal | None:
            return Refusal.KIND if line.kind == "watch" else right(self, t_ns, line, message)

        monkeypatch.setattr(SimulatedBoard, "_do", do)
    rig = watching(BoardSettings(switch=older))
    live(rig, 0, 100)
    assert rig.desk.no_switch is (Refusal.KIND if older else Refusal.ABSENT)
    # All else goes on.
    rig.part(110 * MS)
    live(rig, 100, 400)
    edges = [one for one in rig.desk.beam() if isinstance(one, BeamEdge)]
    assert [one.blocked for one in edges[-2:]] == [True, False]


def test_a_wish_to_watch_that_is_not_answered_is_said_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    right, heard = SimulatedBoard._answer, []

    def answer(self: SimulatedBoard, t_ns: int, line: Line, refusal: Refusal | None) -> None:
        if line.kind == "watch":
            heard.append(t_ns)
            self._switch.watched = len(heard) > 1
        if line.kind != "watch" or len(heard) > 1:
            right(self, t_ns, line, refusal)

    monkeypatch.setattr(SimulatedBoard, "_answer", answer)
    rig = watching()
    live(rig, 0, 700)
    assert len(heard) == 2
    rig.board.press(710 * MS)
    live(rig, 700, 1000)
    assert presses(rig) == [pytest.approx(710, abs=2)]


def test_a_board_that_falls_silent_is_told_once_and_so_is_its_return() -> None:
    rig = SerialRig()
    live(rig, 0, 100)
    for ms in range(100, 2000):
        rig.desk.heard(ms * MS, rig.link.turn(ms * MS), rig.link)
        rig.board.step(ms * MS, room=0)
    live(rig, 2000, 2300)
    told = [one for one in rig.desk.beam() if isinstance(one, BoardHeard)]
    assert told == [BoardHeard(heard=False, before=True), BoardHeard(heard=True, before=True)]


def test_edges_that_were_lost_on_the_way_are_told_once_and_counted() -> None:
    rig = SerialRig(BoardSettings(queue=16))
    live(rig, 0, 50)
    rig.desk.beam()
    for part in range(20):
        rig.part((60 + 20 * part) * MS)
    for ms in range(50, 500):
        rig.live(ms * MS, host=False)
    live(rig, 500, 1000)
    lost = [one for one in rig.desk.beam() if isinstance(one, BeamLost)]
    assert [one.edges for one in lost] == [24]


def test_a_line_that_is_let_go_of_has_its_gate_shut_at_once_not_by_the_lease() -> None:
    rig = opened()
    rig.desk.end(100 * MS, rig.link)
    rig.board.step(101 * MS, rig.link.turn(100 * MS).to_send)
    assert (rig.board.coil_log[-1].on, rig.board.coil_log[-1].t_ns) == (False, 101 * MS)
    assert not rig.link.holding
