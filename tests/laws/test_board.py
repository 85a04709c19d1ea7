"""What must hold of a board's coil and its lines, whatever the host does."""

from dataclasses import replace
from itertools import pairwise

from boards import BAG, MS, UNTIRING, written
from hypothesis import example, given, settings
from hypothesis import strategies as st
from protocol_lines import NOISE, messages

from viscount.devices.protocol.line import NUMBERS
from viscount.devices.protocol.messages import (
    FROM_HOST,
    LEASE_MS,
    Greet,
    HostMessage,
    Open,
    Ready,
    Renew,
    Shut,
)
from viscount.devices.protocol.numbered import Heard, NumberedLines
from viscount.testing.board import BoardSettings, SimulatedBoard, check_recorded_lines

QUICK = settings(max_examples=40, deadline=None, derandomize=True)
MANY = settings(max_examples=150, deadline=None, derandomize=True)
LEASE_NS = LEASE_MS * MS

ACTS = st.sampled_from(
    ["bag"] * 6
    + ["renew"] * 8
    + ["part"] * 3
    + ["ready", "open", "shut", "greet", "wrong number", "wrong boot"]
    + ["reset", "jam", "noise", "wait"]
)
PLAN = st.lists(st.tuples(ACTS, st.integers(0, 70) | st.integers(0, 270)), min_size=4, max_size=40)
BAGS = st.builds(
    Ready,
    count=st.integers(1, 5),
    early=st.just(0),
    delay_us=st.integers(0, 50_000),
    on_ms=st.integers(1, 200) | st.integers(200, 1000),
    expiry_ms=st.integers(1, 1000),
)


class Witness:
    """Writes down, apart from the board, what it was told and when."""

    def __init__(self, settings_of_board: BoardSettings, bag: Ready) -> None:
        self.board = SimulatedBoard(settings_of_board)
        self.number = 0
        self.bag = bag
        self.boot = settings_of_board.boot
        self.now_ms = 0
        self.renewals: list[int] = []
        self.resets: list[int] = []
        self.wire = self.board.step(0)
        self.due: int | None = None

    def send(self, message: HostMessage, *, skip: int = 0, boot: int | None = None) -> None:
        """Write a line; a renewal is a good one if number and boot are those that are due."""
        number = (self.number + skip) % NUMBERS
        self.number = (number + 1) % NUMBERS
        to_boot = self.boot if boot is None else boot
        now_ns = self.now_ms * MS
        if isinstance(message, Greet):
            self.due = self.number
        elif number == self.due and to_boot == self.boot:
            self.due = self.number
            if isinstance(message, Renew):
                self.renewals.append(now_ns)
        else:
            self.due = None
        self.wire += self.board.step(now_ns, written(message, number, to_boot))

    def act(self, act: str, wait_ms: int, noise: bytes) -> None:
        self.now_ms += wait_ms
        now_ns = self.now_ms * MS
        match act:
            case "renew":
                self.send(Renew())
            case "ready":
                self.send(self.bag)
            case "open":
                self.send(Open())
            case "shut":
                self.send(Shut())
            case "greet":
                self.send(Greet(), boot=0)
            case "bag":
                for message in (Greet(), Renew(), self.bag, Open()):
                    self.send(message)
            case "wrong number":
                self.send(Renew(), skip=1)
            case "wrong boot":
                self.send(Renew(), boot=self.boot + 1)
            case "reset":
                self.board.reset(now_ns)
                self.wire += self.board.step(now_ns)
                self.boot, self.due = self.boot + 1, None
                self.resets.append(now_ns)
            case "jam":
                self.board.jam()
            case "part":
                self.board.beam(now_ns, True)
                self.board.beam(now_ns + 2 * MS, False)
            case "noise":
                self.wire += self.board.step(now_ns, noise + b"\n")
            case "wait":
                self.wire += self.board.step(now_ns)

    def on(self) -> list[tuple[int, int]]:
        """The stretches of time in which the coil was on."""
        log = self.board.coil_log
        assert [one.on for one in log] == [i % 2 == 0 for i in range(len(log))]
        times = [one.t_ns for one in log]
        return list(zip(times[::2], times[1::2], strict=True))


@MANY
@given(
    plan=PLAN,
    noise=NOISE,
    bag=BAGS,
    duty=st.sampled_from([100, 50, 20]),
    on_ms=st.integers(200, 800),
)
@example(plan=[("bag", 0), ("wait", 120)], noise=b"", bag=BAG, duty=100, on_ms=800)
@example(
    plan=[("bag", 0), ("bag", 250)],
    noise=b"",
    bag=Ready(count=1, early=0, delay_us=0, on_ms=250, expiry_ms=1),
    duty=100,
    on_ms=250,
)
def test_the_coil_keeps_to_lease_limits_and_duty(
    plan: list[tuple[str, int]], noise: bytes, bag: Ready, duty: int, on_ms: int
):
    board = replace(UNTIRING, duty_percent=duty, on_ms=on_ms)
    witness = Witness(board, bag)
    witness.now_ms = 6000
    for act, wait_ms in plan:
        witness.act(act, wait_ms, noise)
    witness.act("wait", 2000, b"")
    rested_ns = 0
    for start_ns, end_ns in witness.on():
        good = [t for t in witness.renewals if t <= end_ns]
        assert good
        assert start_ns < good[-1] + LEASE_NS
        # A renewal at the very moment at which the lease ends comes too late, and changes nothing.
        held = [t for t in good if start_ns <= t < end_ns]
        assert all(b - a < LEASE_NS for a, b in pairwise(held))
        assert end_ns <= good[-1] + LEASE_NS
        assert end_ns - start_ns <= min(on_ms, bag.on_ms) * MS
        assert not any(start_ns < t < end_ns for t in witness.resets)
        assert start_ns >= rested_ns
        rested_ns = end_ns + (end_ns - start_ns) * (100 - duty) // duty
    check_recorded_lines(witness.wire)


LINES = st.one_of(st.just(Greet()), st.just(Renew()), BAGS, st.just(Open()), messages(FROM_HOST))
IN_TURN = (Greet(), Renew(), BAG, Open())
MOSTLY_RIGHT = st.sampled_from([0] * 12 + [1, 65535])


@MANY
@given(
    drawn=st.lists(
        st.tuples(LINES, MOSTLY_RIGHT, MOSTLY_RIGHT, st.integers(0, 60)).map(lambda one: [one])
        | st.integers(0, 90).map(lambda ms: [(one, 0, 0, ms) for one in IN_TURN]),
        min_size=2,
        max_size=20,
    )
)
def test_the_coil_is_never_on_without_greeting_renewal_readiness_and_opening_in_turn(
    drawn: list[list[tuple[HostMessage, int, int, int]]],
):
    """Random lines of a host: the coil goes on only where a strict reading allows it."""
    sent = [one for some in drawn for one in some]
    board = SimulatedBoard(UNTIRING)
    now_ms, number, due = 1, 0, None
    leased_ms: int | None = None
    ready = False
    for message, skipped, boots_on, wait_ms in sent:
        now_ms += wait_ms
        board.step(now_ms * MS)
        before = len(board.coil_log)
        number, boot = (number + skipped) % NUMBERS, (1 + boots_on) % NUMBERS
        board.step(now_ms * MS, written(message, number, boot))
        leased = leased_ms is not None and now_ms - leased_ms < LEASE_MS
        may_open = False
        if isinstance(message, Greet):
            due, ready = number + 1, False
        elif number != due or boot != 1:
            due, ready = None, False
        else:
            due = number + 1
            leased_ms = now_ms if isinstance(message, Renew) else leased_ms
            may_open = isinstance(message, Open) and ready and leased
            ready = isinstance(message, Ready) or (ready and not isinstance(message, Shut))
        number += 1
        opened = [one for one in board.coil_log[before:] if one.on]
        assert not opened or may_open


@QUICK
@given(data=st.data(), plan=PLAN, bag=BAGS)
def test_noise_ahead_and_between_never_opens_the_gate(
    data: st.DataObject, plan: list[tuple[str, int]], bag: Ready
):
    """Everything but `open`, with noise between: the coil is never on."""
    witness = Witness(UNTIRING, bag)
    for act, wait_ms in plan:
        if act not in ("open", "bag"):
            noise = data.draw(NOISE)
            if b" open " not in noise:
                witness.act(act, wait_ms, noise)
    witness.act("wait", 2000, b"")
    assert witness.board.coil_log == ()


@QUICK
@given(
    parts=st.lists(st.integers(2, 30), min_size=1, max_size=30),
    room=st.integers(80, 400),
    queue=st.integers(1, 20),
    sleeps=st.lists(st.booleans(), min_size=30, max_size=30),
)
def test_a_board_that_is_read_late_never_breaks_the_rules(
    parts: list[int], room: int, queue: int, sleeps: list[bool]
):
    board = SimulatedBoard(replace(UNTIRING, queue=queue))
    now_ms = 1
    for gap in parts:
        now_ms += gap
        board.beam(now_ms * MS, True)
        board.beam((now_ms + 1) * MS, False)
    said = b""
    for i, asleep in enumerate(sleeps):
        said += board.step(i * 40 * MS, room=0 if asleep else room)
    said += board.step(3000 * MS) + board.step(3201 * MS)
    check_recorded_lines(said)
    heard = [one.message for one in NumberedLines().feed(said) if isinstance(one, Heard)]
    assert heard[-1].edges == 2 * len(parts)  # type: ignore[union-attr]
