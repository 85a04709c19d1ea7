"""The conformance kit finds what is wrong: boards that break one rule each."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from boards import MS, UNTIRING, written

from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.line import Line
from viscount.devices.protocol.messages import (
    EdgeSeen,
    Hello,
    Limits,
    Ok,
    Ready,
    Renew,
    Total,
    Watch,
)
from viscount.devices.protocol.states import Happening
from viscount.devices.protocol.words import Refusal, State
from viscount.testing.board import (
    BoardSettings,
    SimulatedBoard,
    check_board,
    check_recorded_lines,
)
from viscount.testing.board import switch as switch_room
from viscount.testing.board.gate import Gate
from viscount.testing.board.outbox import Outbox
from viscount.testing.board.switch import Switch

HELLO = Hello(
    version=1, name="a", firmware="1", tick_ns=1000, has=Has(), t_us=0, edges=0, blocked=False
)
LIMITS = Limits(on_ms=1, duty_percent=1, blade_ms=1, queue=1)


@pytest.mark.parametrize(
    "settings",
    [
        BoardSettings(on_ms=500, duty_percent=50),
        replace(UNTIRING, drift_ppm=200.0, tick_ns=4000, clock_us=2**32 - 300_000),
        replace(UNTIRING, starts_ms=300, on_ms=65535, boot=65535),
        replace(UNTIRING, has=Has(True, True, False, False)),
        replace(UNTIRING, has=Has(True, False, False, False)),
        replace(UNTIRING, switch=False),
    ],
)
def test_boards_that_keep_the_protocol_pass(settings: BoardSettings):
    check_board(lambda: SimulatedBoard(settings))


def test_a_board_without_a_beam_cannot_be_checked():
    blind = replace(UNTIRING, has=Has(False, True, False, False))
    with pytest.raises(AssertionError, match="without a beam cannot be checked"):
        check_board(lambda: SimulatedBoard(blind))


def test_a_board_whose_coil_may_hardly_be_on_cannot_be_checked():
    with pytest.raises(AssertionError, match="its coil may be on for 499 ms, not 500"):
        check_board(lambda: SimulatedBoard(replace(UNTIRING, on_ms=499)))


NEVER_MS = 1e7
Break = Callable[[pytest.MonkeyPatch], None]


def deaf_to_numbers(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._obey

    def obey(self: SimulatedBoard, t_ns: int, line: Line) -> None:
        if self._expected is not None:
            self._expected = line.number
        right(self, t_ns, line)

    patch.setattr(SimulatedBoard, "_obey", obey)


def deaf_to_boots(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._obey

    def obey(self: SimulatedBoard, t_ns: int, line: Line) -> None:
        own = line if line.kind == "greet" else replace(line, boot=self._boot)
        right(self, t_ns, own)

    patch.setattr(SimulatedBoard, "_obey", obey)


def forgives(patch: pytest.MonkeyPatch) -> None:
    """A board that goes on where it was after a wrong number."""
    right = SimulatedBoard._obey

    def obey(self: SimulatedBoard, t_ns: int, line: Line) -> None:
        due = self._expected
        right(self, t_ns, line)
        self._expected = due if self._expected is None else self._expected

    patch.setattr(SimulatedBoard, "_obey", obey)


def without(happening: Happening) -> Break:
    right = Gate.happen

    def happen(self: Gate, t_ns: int, what: Happening) -> Refusal | None:
        return None if what is happening else right(self, t_ns, what)

    return lambda patch: patch.setattr(Gate, "happen", happen)


def timer_late(timer: str, by_ms: float) -> Break:
    """A board whose timer runs out later than it should."""

    def hold_up(patch: pytest.MonkeyPatch) -> None:
        right = Gate.due

        def due(self: Gate, now_ns: int) -> tuple[int, Happening] | None:
            at_ns = getattr(self, timer)
            setattr(self, timer, None if at_ns is None else at_ns + round(by_ms * MS))
            try:
                return right(self, now_ns)
            finally:
                setattr(self, timer, at_ns)

        patch.setattr(Gate, "due", due)

    return hold_up


def never_leased_out(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Gate, "_leased", lambda self, t_ns: True)


def no_rest(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Gate, "_rest_ns", lambda self, on_ns: 0)


def any_time_on(patch: pytest.MonkeyPatch) -> None:
    right = Gate.ready

    def ready(self: Gate, t_ns: int, wanted: Ready) -> Refusal | None:
        return right(self, t_ns, replace(wanted, on_ms=min(wanted.on_ms, self._settings.on_ms)))

    patch.setattr(Gate, "ready", ready)


def counts_twice(patch: pytest.MonkeyPatch) -> None:
    right = Gate.head_edge

    def head_edge(self: Gate, t_ns: int) -> None:
        right(self, t_ns)
        right(self, t_ns)

    patch.setattr(Gate, "head_edge", head_edge)


def cuts_at_n(patch: pytest.MonkeyPatch) -> None:
    right = Gate.ready
    patch.setattr(Gate, "ready", lambda self, t_ns, bag: right(self, t_ns, replace(bag, early=0)))


def opens_though_counted(patch: pytest.MonkeyPatch) -> None:
    right = Gate.switch_on

    def switch_on(self: Gate, t_ns: int) -> Refusal | None:
        if self.state is State.READY:
            self._count = 0
        return right(self, t_ns)

    patch.setattr(Gate, "switch_on", switch_on)


def same_boot(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._power_on

    def power_on(self: SimulatedBoard, t_ns: int, *, shows_us: int = 0) -> None:
        self._boot = 1
        right(self, t_ns, shows_us=shows_us)

    patch.setattr(SimulatedBoard, "_power_on", power_on)


def coil_on_through_reset(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Gate, "reset", lambda self, t_ns: None)


def changed_outbox(change: Callable[[object], object]) -> Break:
    right = Outbox.say

    def say(self: Outbox, message: object) -> None:
        changed = change(message)
        if changed is not None:
            right(self, changed)  # type: ignore[arg-type]

    return lambda patch: patch.setattr(Outbox, "say", say)


def no_answer(message: object) -> object:
    return None if isinstance(message, Ok) and message.line == 3 else message


def late_edges(message: object) -> object:
    late = isinstance(message, EdgeSeen) and message.seq % 4 == 3
    return replace(message, t_us=message.t_us + 2000) if late else message  # type: ignore[type-var]


def edge_left_out(message: object) -> object:
    return None if isinstance(message, EdgeSeen) and message.seq == 3 else message


def edges_from_0(message: object) -> object:
    one = isinstance(message, EdgeSeen)
    return replace(message, seq=message.seq - 1) if one else message  # type: ignore[type-var]


def level_upside_down(message: object) -> object:
    one = isinstance(message, EdgeSeen)
    return replace(message, blocked=not message.blocked) if one else message  # type: ignore[type-var]


def wrong_total(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._total

    def total(self: SimulatedBoard, now_ns: int) -> Total:
        told = right(self, now_ns)
        return replace(told, edges=told.edges + 2 * (told.edges > 4), pulses=told.pulses)

    patch.setattr(SimulatedBoard, "_total", total)


def no_totals(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._ask_total

    def ask(self: SimulatedBoard, t_ns: int) -> None:
        right(self, t_ns)
        self._total_ns += 3000 * MS

    patch.setattr(SimulatedBoard, "_ask_total", ask)


def no_carriage(patch: pytest.MonkeyPatch) -> None:
    right = Outbox.take
    patch.setattr(
        Outbox, "take", lambda self, room, total: right(self, room, total).replace(b"\n", b"\r\n")
    )


def takes_carriage(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard.step
    patch.setattr(
        SimulatedBoard,
        "step",
        lambda self, now, got=b"", room=None: right(self, now, got.replace(b"\r", b""), room=room),
    )


def understands_anything(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._do
    patch.setattr(
        SimulatedBoard,
        "_do",
        lambda self, t, line, message: right(self, t, line, message) if message else None,
    )


def tells_unasked(patch: pytest.MonkeyPatch) -> None:
    watched = property(lambda self: True, lambda self, asked: None)
    patch.setattr(Switch, "watched", watched, raising=False)


def debounces_nothing(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(switch_room, "_STANDS_NS", 1)


def time_of_telling(patch: pytest.MonkeyPatch) -> None:
    """A board whose presses bear the time at which they stood for long enough, releases not."""
    right = Switch.change

    def change(self: Switch) -> None:
        right(self)
        self._since_ns += 20 * MS * self._pressed

    patch.setattr(Switch, "change", change)


def says_it_once(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Outbox, "ask_switch", lambda self, told: self.say(told()))
    right = SimulatedBoard._ask_total

    def ask(self: SimulatedBoard, t_ns: int) -> None:
        watched, self._switch.watched = self._switch.watched, False
        right(self, t_ns)
        self._switch.watched = watched

    patch.setattr(SimulatedBoard, "_ask_total", ask)


def press_opens(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._change_switch

    def change(self: SimulatedBoard, t_ns: int) -> None:
        right(self, t_ns)
        if self.state is State.READY:
            self._gate.switch_on(t_ns)

    patch.setattr(SimulatedBoard, "_change_switch", change)


def press_shuts(patch: pytest.MonkeyPatch) -> None:
    right = SimulatedBoard._change_switch

    def change(self: SimulatedBoard, t_ns: int) -> None:
        right(self, t_ns)
        self._gate.happen(t_ns, Happening.SHUT)

    patch.setattr(SimulatedBoard, "_change_switch", change)


BROKEN: list[tuple[Break, str]] = [
    (deaf_to_numbers, "A wrong number or boot switches the coil off"),
    (deaf_to_boots, "A wrong number or boot switches the coil off"),
    (forgives, "the number that was due came too late"),
    (without(Happening.WRONG_NUMBER), "A wrong number or boot switches the coil off"),
    (timer_late("_lease_ns", NEVER_MS), "It shuts 250 ms after the last renewal"),
    (timer_late("_limit_ns", NEVER_MS), "The coil is on no longer than the readiness allows"),
    (timer_late("_cut_ns", NEVER_MS), "It shuts after the N-th head edge"),
    (timer_late("_expiry_ns", NEVER_MS), "A readiness lapses after its time"),
    (without(Happening.GREET), "It shuts when asked, ready or open, and when greeted"),
    (without(Happening.SHUT), "It shuts when asked, ready or open, and when greeted"),
    (timer_late("_lease_ns", 2), "It shuts 250 ms after the last renewal"),
    (timer_late("_limit_ns", 2), "The coil is on no longer than the readiness allows"),
    (timer_late("_cut_ns", 2), "It shuts after the N-th head edge"),
    (timer_late("_cut_ns", -1), "It shuts after the N-th head edge"),
    (timer_late("_expiry_ns", 5), "A readiness lapses after its time"),
    (never_leased_out, "The coil stays off without greeting, lease, readiness and opening"),
    (no_rest, "After the coil was on it rests"),
    (any_time_on, "The coil is on no longer than the readiness allows"),
    (counts_twice, "It shuts after the N-th head edge"),
    (cuts_at_n, "It shuts after the N-th head edge"),
    (opens_though_counted, "It does not open a gate whose part N has passed"),
    (same_boot, "After a reset it is another run"),
    (coil_on_through_reset, "A reset switches the coil off"),
    (changed_outbox(no_answer), "was answered 0 times"),
    (changed_outbox(late_edges), "It tells every edge, in order, with its time"),
    (changed_outbox(edge_left_out), "It tells every edge, in order, with its time"),
    (changed_outbox(edges_from_0), "It tells every edge, in order, with its time"),
    (changed_outbox(level_upside_down), "It tells every edge, in order, with its time"),
    (wrong_total, "It tells every edge, in order, with its time: line"),
    (no_totals, "It tells its totals five times a second"),
    (no_carriage, "no hello within 5000 ms of power-on or reset; "),
    (takes_carriage, "It takes noise, damaged lines"),
    (understands_anything, "It refuses what it does not understand"),
    (tells_unasked, "It says nothing of the switch before it is asked"),
    (debounces_nothing, "Contacts that bounce make one change"),
    (time_of_telling, "It tells each press and each release once, in order, with its time"),
    (says_it_once, "It says at least every 200 ms how the switch stands"),
    (press_opens, "A press moves nothing, idle or ready"),
    (press_shuts, "A press moves nothing, idle or ready"),
]


@pytest.mark.parametrize(("spoil", "words"), BROKEN)
def test_a_board_that_breaks_a_rule_is_found(
    spoil: Break, words: str, monkeypatch: pytest.MonkeyPatch
):
    spoil(monkeypatch)
    with pytest.raises(AssertionError, match=re.escape(words)):
        check_board(lambda: SimulatedBoard(replace(UNTIRING, on_ms=500, duty_percent=80)))


def edge(seq: int, number: int, **changes: object) -> bytes:
    told = EdgeSeen(seq=seq, t_us=seq, blocked=seq % 2 == 1)
    return written(replace(told, **changes), number)  # type: ignore[arg-type]


def total(edges: int, number: int, lost: int = 0, pulses: int | None = None) -> bytes:
    pulses = (edges + 1) // 2 if pulses is None else pulses
    blocked = edges % 2 == 1
    told = Total(t_us=0, edges=edges, pulses=pulses, lost=lost, blocked=blocked)
    return written(told, number)


BEGIN = written(HELLO, 0) + written(LIMITS, 1)


@pytest.mark.parametrize(
    "data",
    [
        BEGIN,
        BEGIN + total(0, 2) + edge(1, 3) + edge(2, 4) + total(2, 5),
        BEGIN + edge(4, 2) + total(4, 3, lost=3),
        BEGIN + edge(1, 2) + written(HELLO, 0, 2) + written(LIMITS, 1, 2),
    ],
)
def test_lines_that_keep_the_rules_pass(data: bytes):
    check_recorded_lines(data)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xff" + BEGIN, "1 bytes stand between lines"),
        (BEGIN + b"^2 1 edg", "the last line has no end"),
        (BEGIN + edge(1, 2).replace(b"e", b"f"), "1 lines are damaged"),
        (BEGIN + edge(1, 3), "missing lines: 0 damaged, 1 missing (2)"),
        (written(LIMITS, 0), "line 0 of boot 1: a run begins with 'limits', no hello"),
        (written(HELLO, 1), "the first line of a run must have number 0"),
        (written(HELLO, 0, 0), "boot 0 is no board's"),
        (written(HELLO, 0) + edge(1, 1), "'edge' follows a hello; limits must"),
        (BEGIN + written(Renew(), 2), "only a host sends 'renew'"),
        (BEGIN + edge(1, 2) + edge(1, 2), "came twice"),
        (BEGIN + edge(2, 2) + edge(1, 3), "counts fall within a run"),
        (BEGIN + edge(1, 2) + edge(2, 3, blocked=True), "where the beam cannot be"),
        (BEGIN + edge(4, 2) + total(4, 3), "a total of 4 edges, 0 of them lost, after 1 edges"),
        (BEGIN + total(2, 2), "a total of 2 edges, 0 of them lost, after 0 edges"),
        (written(replace(HELLO, version=2), 0), "version 2, not 1"),
        (written(replace(HELLO, edges=4), 0), "4 edges at the beginning of a run"),
    ],
)
def test_lines_that_break_the_rules_are_found(data: bytes, words: str):
    with pytest.raises(AssertionError, match=re.escape(words)):
        check_recorded_lines(data)


def test_a_board_older_than_the_switch_passes(monkeypatch: pytest.MonkeyPatch):
    """Its firmware knows no line `watch`, and says so."""
    right = SimulatedBoard._do

    def do(self: SimulatedBoard, t_ns: int, line: Line, message: object) -> Refusal | None:
        return Refusal.KIND if isinstance(message, Watch) else right(self, t_ns, line, message)

    monkeypatch.setattr(SimulatedBoard, "_do", do)
    check_board(lambda: SimulatedBoard(UNTIRING))


def test_the_kit_uses_no_private_way_into_a_board():
    class Adapter:
        """Nothing but what the kit asks for."""

        def __init__(self) -> None:
            board = SimulatedBoard(UNTIRING)
            self.step = lambda now_ns, received=b"": board.step(now_ns, received)
            self.beam, self.reset = board.beam, board.reset
            self.press = board.press
            self._board = board

        @property
        def coil_log(self):
            return self._board.coil_log

    check_board(Adapter)

    class WithoutPress(Adapter):
        def __init__(self) -> None:
            super().__init__()
            del self.press

    with pytest.raises(AssertionError, match="there is no `press` to try it by"):
        check_board(WithoutPress)
