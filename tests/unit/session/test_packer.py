"""Bags packed live: the engine, its camera, the beam line over a pseudo-terminal, and a board."""

import errno
import json
import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from bag_records import AT, RECORD
from live_cameras import opening
from pouring_camera import OUTLET, PouringCamera, order, pouring
from pty_boards import PtyBoard, PtyPorts
from tallies import passage

from viscount.clock import SystemClock
from viscount.devices.triggers.serial import SerialTrigger
from viscount.errors import UsageError
from viscount.hooks.loading import load_plugins
from viscount.packing.actions import Write
from viscount.packing.events import (
    BeamEdge,
    CameraSaw,
    CameraStands,
    GateDid,
    HandCount,
    Pressed,
    Said,
    Word,
    Written,
)
from viscount.packing.machine import Phase
from viscount.packing.order import BagBy
from viscount.packing.record import BagRecord, Result
from viscount.seams import Did, GateReport, GateState
from viscount.session.engine import Engine
from viscount.session.gate_desk import GateDesk
from viscount.session.journal import Journal, JournalLostError, read_journal
from viscount.session.messages import Packing, Value
from viscount.session.packer import Packer, TriggerFailedError
from viscount.session.packing import packer_for
from viscount.session.plan import LivePlan
from viscount.testing import FakeTrigger
from viscount.testing.board import BoardSettings

ATTEMPTS = 3
"""A machine so busy that the engine starves for a fifth of a second loses the gate's lease, as it
must; what such a run comes to is told elsewhere."""
BOARD = BoardSettings(starts_ms=50, on_ms=8000, duty_percent=100)


class Person:
    """Says what a person would, as soon as it is asked for; keeps what was shown."""

    def __init__(self, attends: Callable[["Person", Packing], Word]) -> None:
        self.engine: Engine | None = None
        self.shown: list[Packing] = []
        self._attends = attends
        self._answered = ""

    def __call__(self, value: Value) -> None:
        if not isinstance(value, Packing) or self.engine is None:
            return
        self.shown.append(value)
        here = f"{value.bag} {value.phase} {len(self.records)}"
        if here == self._answered:
            return
        if value.phase == Phase.WAITING:
            self.engine.press(Said(word=Word.BAG, bag=value.bag))
        elif value.phase == Phase.ATTENTION:
            self.engine.press(Said(word=self._attends(self, value), bag=value.bag))
        elif value.phase == Phase.HAND:
            self.engine.press(HandCount(count=value.wanted))
        self._answered = here

    @property
    def records(self) -> list:
        return [one.record for one in self.shown if one.record is not None]


def aside(person: Person, value: Packing) -> Word:
    return Word.ASIDE


def run(
    journal: Path,
    board: PtyBoard,
    camera: PouringCamera,
    person: Person,
    each: int,
    bags: int,
    bag_by: BagBy = BagBy.ENTER,
) -> None:
    pack = replace(order(each, bags), bag_by=bag_by)
    # Whatever goes wrong, the test ends.
    plan = LivePlan(source="pouring", outlet=OUTLET, pack=pack, journal=journal, for_s=60.0)
    clock, registry = SystemClock(), load_plugins([])
    packer = packer_for(plan, registry, clock, person)
    person.engine = Engine(
        plan,
        registry,
        clock,
        camera=opening(camera),
        tell=person,
        ports=PtyPorts(board),
        packer=packer,
    )
    person.engine.run()


def test_a_few_bags_with_held_parts_and_an_empty_magazine(tmp_path: Path) -> None:
    """Eleven parts: two bags of 4, with parts held in between, and one that is short."""
    for attempt in range(ATTEMPTS):
        records = eleven_parts(tmp_path / f"bags-{attempt}.jsonl")
        if not any("lease" in reason for one in records for reason in one.reasons):
            break
    told = [(one.bag, one.result, one.in_bag, one.held) for one in records]
    assert told == [
        (1, Result.GOOD, 4, 1),
        (2, Result.GOOD, 4, 1),
        (3, Result.SHORT, 3, 0),
        (3, Result.GOOD, 4, 1),
    ]


def eleven_parts(journal: Path) -> tuple[BagRecord, ...]:
    """Pack three bags of 4 with eleven parts and what is filled in; return their records."""

    def refills(person: Person, value: Packing) -> Word:
        magazine.left = 5
        # A bag that is not short can't be topped up: then something else is wrong.
        return Word.TOP_UP if person.records[-1].result is Result.SHORT else Word.STOP

    with PtyBoard(BOARD) as board:
        magazine, camera = pouring(board, 11)
        person = Person(refills)
        run(journal, board, camera, person, 4, 3)
        assert not board.board.coil_log[-1].on
    records = read_journal(journal).records
    assert person.shown[-1].ended
    assert person.records == list(records)
    lines = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
    assert all(line["at"].startswith("20") for line in lines)
    return records


def test_what_the_journal_got_since_the_plan_was_made_counts(tmp_path: Path) -> None:
    """Two runs one after the other, both planned beforehand: no number is given twice."""
    plan = LivePlan(
        source="pouring", outlet=OUTLET, pack=order(4, 3), journal=tmp_path / "bags.jsonl"
    )
    with Journal(tmp_path / "bags.jsonl") as journal:
        for number in (1, 2):
            journal.write(replace(RECORD, bag=number, part="plate"), AT)
    shown: list[Packing] = []
    packer = packer_for(plan, load_plugins([]), SystemClock(), shown.append)
    packer.tend(0, CameraStands(final_ns=0, blind_s=0.0))
    packer.close(0)
    assert (shown[-1].bag, shown[-1].totals.packed) == (3, 2)


def test_a_part_that_the_camera_misses_makes_a_bag_unsure_and_the_gate_stays_shut(
    tmp_path: Path,
) -> None:
    journal = tmp_path / "bags.jsonl"
    opened: list[int] = []

    def stops(person: Person, value: Packing) -> Word:
        opened.append(sum(change.on for change in board.board.coil_log))
        return Word.STOP

    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 20, unseen=frozenset({1}))
        person = Person(stops)
        run(journal, board, camera, person, 3, 2)
        assert [sum(change.on for change in board.board.coil_log)] == opened == [1]
    (record,) = read_journal(journal).records
    assert record.result is Result.UNSURE
    assert any("the camera counted" in reason for reason in record.reasons)


def test_an_engine_whose_main_thread_hangs_loses_the_gate(tmp_path: Path) -> None:
    """The beam line's thread goes on, and shuts the gate all the same."""
    hung, free = threading.Event(), threading.Event()
    at: list[int] = []

    class Hangs(Person):
        def __call__(self, value: Value) -> None:
            super().__call__(value)
            if isinstance(value, Packing) and value.gate == "open" and not hung.is_set():
                at.append(time.monotonic_ns())
                hung.set()
                free.wait(10)

    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 2)
        person = Hangs(aside)
        going = threading.Thread(
            target=run, args=(tmp_path / "bags.jsonl", board, camera, person, 9, 1)
        )
        going.start()
        assert hung.wait(20)
        board.await_that(lambda: not board.board.coil_log[-1].on)
        took_ms = (board.board.coil_log[-1].t_ns - at[0]) / 1e6
        assert person.engine is not None
        person.engine.stop()
        free.set()
        going.join(20)
    assert took_ms <= 250
    (record,) = read_journal(tmp_path / "bags.jsonl").records
    assert record.result is Result.UNSURE


def test_an_exception_in_the_engine_shuts_the_gate(tmp_path: Path) -> None:
    class Breaks(Person):
        def __call__(self, value: Value) -> None:
            super().__call__(value)
            if isinstance(value, Packing) and value.gate == "open":
                raise ZeroDivisionError("broken on purpose")

    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 2)
        try:
            run(tmp_path / "bags.jsonl", board, camera, Breaks(aside), 9, 1)
        except ZeroDivisionError:
            broke_ns = time.monotonic_ns()
        board.await_that(lambda: not board.board.coil_log[-1].on)
        assert board.board.coil_log[-1].t_ns <= broke_ns + 250_000_000


def test_a_trigger_that_breaks_ends_the_run_and_leaves_the_coil_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tend = SerialTrigger.tend

    def breaks(self: SerialTrigger, now_ns: int) -> object:
        if self.state is GateState.OPEN:
            raise RuntimeError("broken on purpose")
        return tend(self, now_ns)

    monkeypatch.setattr(SerialTrigger, "tend", breaks)
    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 2)
        with pytest.raises(TriggerFailedError, match="RuntimeError: broken on purpose"):
            run(tmp_path / "bags.jsonl", board, camera, Person(aside), 9, 1)
        ended_ns = time.monotonic_ns()
        board.await_that(lambda: not board.board.coil_log[-1].on)
        assert board.board.coil_log[-1].t_ns <= ended_ns + 250_000_000


class AtTheSwitch(Person):
    """Presses the board's switch instead of Enter; what else it does is handed in.

    `presses` is asked at each showing whether to press now.
    """

    def __init__(self, board: PtyBoard, presses: Callable[["AtTheSwitch", Packing], bool]) -> None:
        super().__init__(aside)
        self._board = board
        self._presses = presses
        self.opened: list[int] = []

    def __call__(self, value: Value) -> None:
        if isinstance(value, Packing) and self.engine is not None:
            self.shown.append(value)
            self.opened.append(sum(one.on for one in self._board.board.coil_log))
            if self._presses(self, value):
                self._board.press()

    def said(self, text: str) -> bool:
        return any(text in one.text for shown in self.shown for one in shown.says)


def test_presses_pack_and_one_that_comes_during_a_pour_starts_nothing(tmp_path: Path) -> None:
    """Two bags of 2 by three presses: the second comes while the first bag pours."""
    for attempt in range(ATTEMPTS):
        person, pressed = three_presses(tmp_path / f"bags-{attempt}.jsonl")
        if [one.result for one in person.records] == [Result.GOOD] * 2:
            break
    assert pressed == ["1 waiting for a bag", "1 pouring", "2 waiting for a bag"]
    assert person.said("opens nothing: no bag is waited for")
    between = [
        opened
        for opened, one in zip(person.opened, person.shown, strict=True)
        if (one.bag, one.phase) == (2, Phase.WAITING)
    ]
    assert len(between) > WAITS
    assert (set(between), person.opened[-1]) == ({1}, 2)


WAITS = 8
"""So many showings go by before the switch is pressed: no press of before is under way by then."""


def three_presses(journal: Path) -> tuple[AtTheSwitch, list[str]]:
    """Press once for each bag and once in a pour; stop where a person is wanted."""
    pressed: list[str] = []

    def presses(person: AtTheSwitch, value: Packing) -> bool:
        here = f"{value.bag} {value.phase}"
        since = [f"{one.bag} {one.phase}" for one in person.shown].index(here)
        waits = value.phase == Phase.WAITING and len(person.shown) - since > WAITS
        if value.phase == Phase.ATTENTION and person.engine is not None:
            person.engine.press(Said(word=Word.STOP))
        if here in pressed or not (waits or (here == "1 pouring" and value.in_bag > 0)):
            return False
        pressed.append(here)
        return True

    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 50)
        person = AtTheSwitch(board, presses)
        run(journal, board, camera, person, 2, 2, BagBy.BOARD)
        assert not board.board.coil_log[-1].on
    return person, pressed


def test_a_cable_that_is_pulled_while_a_press_is_waited_for_is_told(tmp_path: Path) -> None:
    """What is pressed meanwhile opens nothing, then or later."""
    did: list[str] = []

    def presses(person: AtTheSwitch, value: Packing) -> bool:
        if not did and value.phase == Phase.WAITING and value.gate == "idle":
            did.append("pulled")
            board.unplug()
        elif did == ["pulled"] and person.said("the board says nothing"):
            did.append("pressed")
            board.plug()
            return True
        elif did == ["pulled", "pressed"] and person.said("the board is heard again"):
            did.append("pressed again")
            return True
        elif did[-1:] == ["pressed again"] and person.said("go on by the keys"):
            did.append("ended")
            assert person.engine is not None
            person.engine.press(Said(word=Word.STOP))
        return False

    with PtyBoard(BOARD) as board:
        _, camera = pouring(board, 2)
        person = AtTheSwitch(board, presses)
        run(tmp_path / "bags.jsonl", board, camera, person, 2, 2, BagBy.BOARD)
        assert board.board.coil_log == ()
    assert did[-1] == "ended"


def test_a_board_without_a_switch_ends_the_run_before_anything_moves(tmp_path: Path) -> None:
    with PtyBoard(replace(BOARD, switch=False)) as board:
        _, camera = pouring(board, 2)
        with pytest.raises(UsageError, match="a board without a press switch") as raised:
            run(tmp_path / "bags.jsonl", board, camera, Person(aside), 2, 2, BagBy.BOARD)
        assert board.board.coil_log == ()
    assert "--bag-by enter" in str(raised.value)


class WantsToWrite:
    """A machine that has a record to write, and keeps what it is told."""

    def __init__(self) -> None:
        self.told: list[object] = []

    def step(self, now_ns: int, event: object) -> list[Write]:
        self.told.append(event)
        return [Write(record=RECORD)] if isinstance(event, CameraSaw) else []


def test_a_record_that_cannot_be_written_lets_nothing_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    machine, shown = WantsToWrite(), []
    with Journal(tmp_path / "bags.jsonl") as journal:
        packer = Packer(machine, None, None, GateDesk(), journal, SystemClock(), shown.append)  # type: ignore[arg-type]
        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(JournalLostError, match="No space left"):
            packer.passed(0, [passage(1, 1.0).passage])
    assert not any(isinstance(one, Written) for one in machine.told)
    assert shown == []


class Listens(WantsToWrite):
    """A machine that only keeps what it is told."""

    def begin(self) -> list[Write]:
        return []

    def step(self, now_ns: int, event: object) -> list[Write]:
        self.told.append(event)
        return []


class Faulty(FakeTrigger):
    """A trigger that tells of a fault."""

    def tend(self, now_ns: int) -> list[GateReport]:
        return [GateReport(heard_ns=now_ns, did=Did.FAULT, cause="jam")]


def test_a_press_is_heard_behind_all_that_speaks_against_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beam, gate and camera of the same round come first, in whatever order the board told them."""
    edge = BeamEdge(heard_ns=0, device_t_us=0, blocked=False)
    camera = CameraStands(final_ns=0, blind_s=0.0, trouble="it hangs")
    pressed, stop = Pressed(at_ns=0), Said(word=Word.STOP)
    desk, machine = GateDesk(), Listens()
    monkeypatch.setattr(desk, "beam", lambda: [pressed, edge])
    with Journal(tmp_path / "bags.jsonl") as journal:
        packer = Packer(machine, None, Faulty(), desk, journal, SystemClock(), print)  # type: ignore[arg-type]
        packer.press(stop)
        packer.tend(0, camera)
    kinds = [type(one) for one in machine.told]
    assert kinds == [BeamEdge, GateDid, CameraStands, Said, Pressed, type(None)]
