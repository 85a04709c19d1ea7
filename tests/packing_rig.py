"""A packing machine with the board's own protocol, a simulated board, parts and a camera.

All of it in handed-in time: the magazine lets parts go while the simulated blade is off its shut
place; what really falls past the blade is reckoned from the blade's own log, apart from the rules
that judge bags.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from counting import outlet

from viscount.devices.protocol.link import HostLink
from viscount.devices.triggers.serial import SerialOptions, SerialTrigger
from viscount.outlet import Outlet
from viscount.packing.actions import About, AskOpen, AskReady, AskShut, End, Say, Write
from viscount.packing.events import (
    BeamEdge,
    CameraSaw,
    CameraStands,
    Event,
    GateDid,
    Said,
    Word,
    Written,
)
from viscount.packing.machine import PackMachine, Phase
from viscount.packing.order import BagBy, PackOrder, Way
from viscount.packing.record import BagRecord, Result
from viscount.seams import Fitting
from viscount.session.gate_desk import GateDesk
from viscount.session.pour_pairs import Looks, PourPairs
from viscount.tally import SetUp
from viscount.testing.board import BoardSettings, Place, SimulatedBoard
from viscount.values import Basis, Direction, Falls, Passage

MS = 1_000_000
STEP_NS = 2 * MS
CAMERA_LAG_NS = 150 * MS
BOARD = BoardSettings(duty_percent=80, on_ms=8000)
WAY = Way(least_us=34_000, most_us=36_000, reach_us=8_000, shut_us=18_001)
"""Beam to blade in 35 ms; the strokes of `BoardSettings` with their limits."""
ORDER = PackOrder(each=6, bags=3, part="screw", delay_us=45_000, on_ms=6000, way=WAY)
FALL_NS = 35 * MS
DARK_NS = 8 * MS
SPEED_PX_S, LENGTH_PX, LINE_PX, BEAM_PX = 1500.0, 12.0, 80.0, 110.0
WAY_S = (BEAM_PX - LINE_PX - LENGTH_PX / 2) / SPEED_PX_S
"""From a part's centre at the line until its head is at the beam."""
BELOW_PX = 180.0
"""A line below the blade, which is 35 ms below the beam."""
FROM_REST_NS = 60 * MS
"""So long after the blade moved, what lay on it is at that line; one after the other."""


def outlet_for(line_px: float) -> Outlet:
    return outlet(
        view={"line_px": line_px, "scale_px_per_mm": 4.0, "lip_px": 0.0},
        motion={"kind": "belt", "speed_mm_s": 375.0},
        beam={"at_px": BEAM_PX, "width_mm": 0.2},
        part={"name": "screw", "along_fall_mm": 3.0},
    )


def looks_at(line_px: float) -> Looks:
    return Looks(
        set_up=SetUp(
            falls=Falls.DOWN,
            line_px=line_px,
            view_px=160.0,
            scale_px_per_mm=4.0,
            acceleration_px_s2=0.0,
            head_share=0.5,
            quiet_s=1.0,
        ),
        rate_hz=240.0,
    )


OUTLET, LOOKS = outlet_for(LINE_PX), looks_at(LINE_PX)
CAMERA_SIGMA_MS = 0.1


@dataclass
class Falling:
    """What one pour's parts do.

    Attributes
    ----------
    every_ms : from part to part, drawn between.
    left : parts in the magazine.
    stuck_at : so many parts into the pour one stays in the beam, or None.
    camera_misses, camera_adds : chances.
    beam_doubles : chance that a part makes two pulses: a wrong part.
    beam_misses : chance that a part passes beside the beam.
    beam_misses_at, camera_misses_at : that part of the pour, from 0, is missed.
    pair_at : that part of the pour touches the next one: both make one pulse.
    """

    every_ms: tuple[float, float] = (70.0, 90.0)
    left: int = 10**9
    stuck_at: int | None = None
    camera_misses: float = 0.0
    camera_doubt: float = 0.001
    beam_doubles: float = 0.0
    beam_misses: float = 0.0
    beam_misses_at: int | None = None
    camera_misses_at: int | None = None
    pair_at: int | None = None


@dataclass
class Truth:
    """What really happened to the bag under the outlet."""

    in_bag: int = 0
    pinched: int = 0
    held: int = 0
    fallen: list[int] = field(default_factory=list)


class Rig:
    """Lets machine, link and board live, a step at a time."""

    def __init__(
        self, order: PackOrder = ORDER, *, seed: int = 0, settings: BoardSettings = BOARD
    ) -> None:
        self.now_ns = 0
        self.board = SimulatedBoard(settings, seed=seed)
        self.link = HostLink(0)
        self.desk = GateDesk(switch=order.bag_by is BagBy.BOARD)
        self.trigger = SerialTrigger(SerialOptions(), Fitting(line=self.desk))
        self._line_px = line_px = BELOW_PX if order.below_blade else LINE_PX
        pairs = PourPairs(outlet_for(line_px), lambda: looks_at(line_px))
        self.machine = PackMachine(order, pairs)
        self.rng = random.Random(seed)
        self.falling = Falling()
        self.truth = Truth()
        self.records: list[BagRecord] = []
        self.says: list[Say] = []
        self.asked: list[str] = []
        self.edges: list[BeamEdge] = []
        self.ended = False
        self.unplugged = False
        self.camera_trouble = ""
        self.camera_blind_s = 0.0
        self._next_ns: int | None = None
        self._poured = 0
        self._in_air: list[tuple[int, int]] = []
        self._seen: list[tuple[int, CameraSaw]] = []
        self._saw = 0
        self._unseen: set[int] = set()
        self._coil = 0
        self.on_write: Callable[[BagRecord], None] = lambda record: None
        self._do(self.machine.begin())

    def say(self, word: Word) -> None:
        self.step_machine(Said(word=word))

    def press(self, *, for_ms: float = 100.0, after_ms: float = 1.0) -> "Rig":
        """Have the board's switch pressed and released; it is told once it has stood."""
        at_ns = self.now_ns + round(after_ms * MS)
        self.board.press(at_ns, True)
        self.board.press(at_ns + round(for_ms * MS), False)
        return self.run(after_ms + 30)

    def step_machine(self, event: Event | None) -> None:
        self._do(self.machine.step(self.now_ns, event))

    def run(self, ms: float) -> "Rig":
        until_ns = self.now_ns + round(ms * MS)
        while self.now_ns < until_ns:
            self.step()
        return self

    def until(self, true: Callable[[], bool], most_ms: float = 90_000) -> "Rig":
        until_ns = self.now_ns + round(most_ms * MS)
        while not true():
            assert self.now_ns < until_ns, (self.machine.phase, self.machine.stage, self.says[-3:])
            self.step()
        return self

    def step(self) -> None:
        self.now_ns += STEP_NS
        self._magazine()
        self._blade()
        self.desk.serve(self.now_ns, self.link)
        turn = self.link.turn(self.now_ns)
        self.desk.heard(self.now_ns, turn, self.link)
        said = self.board.step(self.now_ns, b"" if self.unplugged else turn.to_send)
        if said and not self.unplugged:
            self.desk.heard(self.now_ns, self.link.hear(self.now_ns, said), self.link)
        for event in self.desk.beam():
            if isinstance(event, BeamEdge):
                self.edges.append(event)
            self.step_machine(event)
        for report in self.trigger.tend(self.now_ns):
            self.step_machine(GateDid(report=report))
        limits = self.trigger.limits
        self.machine.sees_shut = limits is not None and limits.sees_shut
        while self._seen and self._seen[0][0] <= self.now_ns:
            self.step_machine(self._seen.pop(0)[1])
        final_ns = self.now_ns - CAMERA_LAG_NS
        stands = CameraStands(
            final_ns=final_ns, blind_s=self.camera_blind_s, trouble=self.camera_trouble
        )
        self.step_machine(stands)

    # --- the machine's wishes

    def _do(self, actions: list) -> None:
        trigger = self.trigger
        for action in actions:
            match action:
                case AskReady():
                    self.asked.append("ready")
                    self.trigger.ready(self.now_ns, action.wanted)
                case AskOpen():
                    self.asked.append("open")
                    trigger.open(self.now_ns)
                case AskShut():
                    self.asked.append("shut")
                    self.trigger.shut(self.now_ns)
                case Write():
                    self.on_write(action.record)
                    self.records.append(action.record)
                    self._do(self.machine.step(self.now_ns, Written()))
                case Say():
                    self.says.append(action)
                case End():
                    self.ended = True

    def wants(self) -> str:
        return [one.text for one in self.says if one.about is About.WANTS][-1]

    # --- the world

    def _magazine(self) -> None:
        """Let a part go where the blade does not hold the column back."""
        moves = self.board.blade_log
        running = bool(moves) and moves[-1].place is not Place.SHUT
        if not running:
            self._next_ns, self._poured = None, 0
            return
        if self._next_ns is None:
            self._next_ns = moves[-1].t_ns + round(self.rng.uniform(*self.falling.every_ms) * MS)
        while self.falling.left > 0 and self._next_ns <= self.now_ns:
            self._part(self.now_ns + MS)
            self._next_ns += round(self.rng.uniform(*self.falling.every_ms) * MS)

    def _part(self, head_ns: int) -> None:
        falling = self.falling
        if falling.stuck_at is not None and self._poured >= falling.stuck_at:
            if self._poured == falling.stuck_at:
                self.board.beam(head_ns, True)
                self._poured += 1
            return
        number, self._poured = self._poured, self._poured + 1
        falling.left -= 1
        if number == falling.camera_misses_at:
            self._unseen.add(head_ns)
        self._in_air.append((head_ns + FALL_NS, head_ns + FALL_NS + DARK_NS))
        if number == falling.beam_misses_at:
            return
        if falling.beam_misses and self.rng.random() < falling.beam_misses:
            return
        self.board.beam(head_ns, True)
        if self.rng.random() < falling.beam_doubles:
            self.board.beam(head_ns + DARK_NS // 3, False)
            self.board.beam(head_ns + 2 * DARK_NS // 3, True)
        if number == falling.pair_at:
            falling.left -= 1
            head_ns += DARK_NS
            self._in_air.append((head_ns + FALL_NS, head_ns + FALL_NS + DARK_NS))
        self.board.beam(head_ns + DARK_NS, False)

    def clear_beam(self) -> None:
        """A person takes the stuck part out."""
        self.falling.stuck_at = None
        self.board.beam(self.now_ns + MS, False)

    def empty_blade(self) -> None:
        self.truth = Truth()

    def _blade(self) -> None:
        """See what becomes of parts that reach the blade; the camera looks above or below it."""
        for head_ns, tail_ns in list(self._in_air):
            if self.now_ns < tail_ns + 100 * MS:
                continue
            self._in_air.remove((head_ns, tail_ns))
            before = self.truth.in_bag
            self._arrive(head_ns, tail_ns)
            seen = head_ns - FALL_NS not in self._unseen
            if self._line_px == BELOW_PX:
                seen = seen and self.truth.in_bag > before
            if self.rng.random() >= self.falling.camera_misses and seen:
                self._saw_one(self._passage(head_ns - FALL_NS), head_ns)
        opens = [m for m in self.board.blade_log if m.place is Place.OPEN]
        if self.truth.held and opens and opens[-1].t_ns > self._coil:
            if self._line_px == BELOW_PX:
                for k in range(self.truth.held):
                    at_ns = opens[-1].t_ns + (k + 1) * FROM_REST_NS
                    slow = replace(self._passage(at_ns), t_ns=at_ns, speed_px_s=SPEED_PX_S / 2)
                    self._saw_one(slow, at_ns)
            self.truth.in_bag += self.truth.held
            self.truth.held = 0
        if opens:
            self._coil = opens[-1].t_ns

    def _saw_one(self, passage: Passage, at_ns: int) -> None:
        self._seen.append((at_ns + CAMERA_LAG_NS, CameraSaw(passage=passage)))
        self._seen.sort(key=lambda one: one[0])

    def _passage(self, head_ns: int) -> Passage:
        """What the camera makes of a part whose head is at the beam at that time."""
        self._saw += 1
        way_ns = 1e9 * (BEAM_PX - self._line_px - LENGTH_PX / 2) / SPEED_PX_S
        noise = random.Random(head_ns)
        return Passage(
            id=self._saw,
            t_ns=round(head_ns - way_ns + noise.gauss(0.0, CAMERA_SIGMA_MS) * MS),
            sigma_ns=round(CAMERA_SIGMA_MS * MS),
            direction=Direction.WITH,
            basis=Basis.INTERPOLATED,
            speed_px_s=SPEED_PX_S * (1.0 + noise.gauss(0.0, 0.002)),
            across_px=32.0,
            length_px=LENGTH_PX + noise.gauss(2.0, 0.3),
            parts=1,
            doubt=self.falling.camera_doubt,
            first_frame=self._saw * 100,
            last_frame=self._saw * 100 + 20,
        )

    def _arrive(self, head_ns: int, tail_ns: int) -> None:
        """By the blade's own log: it is in the way from REACHED on, and closed from SHUT on."""
        reached = shut = None
        for move in self.board.blade_log:
            if move.place is Place.OPEN:
                if move.t_ns > head_ns:
                    break
                reached = shut = None
            elif move.place is Place.REACHED:
                reached = move.t_ns
            else:
                shut = move.t_ns
        if reached is None or tail_ns <= reached:
            self.truth.in_bag += 1
        elif shut is not None and head_ns >= shut:
            self.truth.held += 1
        else:
            self.truth.pinched += 1


def packed(rig: Rig) -> list[BagRecord]:
    """Pack to the end as a patient person would: set aside what is not good."""
    for _ in range(200):
        if rig.ended:
            break
        phase = str(rig.machine.phase)
        if phase == "waiting for a bag":
            rig.truth.in_bag = rig.truth.pinched = 0
            rig.say(Word.BAG)
        elif phase == "waiting for a person":
            rig.empty_blade()
            rig.say(Word.ASIDE)
        rig.step()
        rig.until(lambda: rig.ended or str(rig.machine.phase).startswith("waiting"))
    return rig.records


def order(**more: object) -> PackOrder:
    return replace(ORDER, **more)  # type: ignore[arg-type]


def linked(rig: Rig) -> Rig:
    return rig.until(lambda: rig.link.linked)


def one_bag(rig: Rig) -> Rig:
    linked(rig).say(Word.BAG)
    return rig.until(lambda: rig.machine.phase in (Phase.WAITING, Phase.ATTENTION, Phase.ENDED))


def attention(rig: Rig, result: Result, why: str = "") -> None:
    """A bag that is not good: told, set aside, and nothing opens by itself, whatever comes."""
    record = rig.records[-1]
    assert record.result is result, record
    assert not why or any(why in reason for reason in record.reasons), record.reasons
    assert rig.machine.phase is Phase.ATTENTION
    assert f"set bag {record.bag} aside" in rig.wants()
    opens = rig.asked.count("open")
    for word in (Word.BAG, Word.PAUSE, Word.GO_ON, Word.BAG):
        rig.say(word)
    rig.run(3000)
    assert rig.asked.count("open") == opens
    assert not rig.board.coil_log or not rig.board.coil_log[-1].on
