"""Bags of six in a row through the simulator's gate, without pictures.

A feeder lets eight parts go each time, so that two more are held after each cut: the bags need 6,
4, 2 and 0 more of the stream, and then the blade is empty again. The board commands each cut by
the head edge that it counts; what the camera measures is the truth with errors, of each part and
of all together.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from viscount.gate.bags import Bags, bags_above
from viscount.gate.coming import coming
from viscount.gate.commands import Commands
from viscount.gate.cuts import CutPlan, plan_cuts
from viscount.gate.places import Places
from viscount.gate.strokes import Moves, Strokes
from viscount.simulate.physics import Paths, paths
from viscount.simulate.physics.blade import strokes as drawn_strokes
from viscount.simulate.scene import Ball, Column, Cycle, Escapement, Gate, Scene
from viscount.stream import Poured

Floats = NDArray[np.float64]

G = 9806.65
WANTED, POURED = 6, 8
NEEDS = (6, 4, 2, 0)
APART_MS = 1500.0
OPENS_BEFORE_MS = 300.0
EMPTY_SHUT_MS = 350.0
LINE_MM, BEAM_MM, BLADE_MM = 95.0, 60.0, 110.0
UNTIL_MM = 320.0


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """One machine and one camera: what falls, how, and by what the measurement is off.

    `scale_off` is a share, `blade_off_mm` what the stated height of the blade is off,
    `careless_ms` by what commands stray from the plan (one sigma).
    """

    seed: int
    diameter_mm: float
    release: Any
    lip_speed_mm_s: float
    reach_ms: float
    takes_ms: float
    spread_ms: float
    sigma_s: float
    scale_off: float
    blade_off_mm: float
    careless_ms: float

    def gate(self, cycles: tuple[Cycle, ...]) -> Gate:
        """Return its gate with these cycles."""
        return Gate(
            below_lip_mm=BLADE_MM,
            reach_ms=self.reach_ms,
            shut_takes_ms=self.reach_ms + self.takes_ms,
            open_takes_ms=8.0,
            spread_ms=self.spread_ms,
            rebound_percent=15.0,
            thickness_mm=0.5,
            cycles=cycles,
        )

    def scene(self, seed: int, cycles: tuple[Cycle, ...], pours: int = 3) -> Scene:
        """Return so many of its pours, with the gate moving in these cycles."""
        return Scene(
            seed=seed,
            parts=(Ball(diameter_mm=self.diameter_mm),),
            release=self.release,
            lip_speed_mm_s=self.lip_speed_mm_s,
            pours_ms=tuple(APART_MS * k for k in range(pours)),
            gate=self.gate(cycles),
            lead_in_s=0.5,
        )


def drawn_world(seed: int) -> World:
    """Return one machine in three a column, the others escapements from slow to fast.

    One in four commands carelessly.
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    column = seed % 3 == 2
    diameter = float(rng.uniform(3.0, 6.0))
    release: Any
    if column:
        release = Column(
            count=POURED, pitch_mm=diameter + 0.5, acceleration_mm_s2=float(rng.uniform(400, 4000))
        )
    else:
        interval = float(rng.uniform(9.0, 60.0))
        release = Escapement(count=POURED, interval_ms=interval, jitter_ms=float(rng.uniform(0, 1)))
    return World(
        seed=seed,
        diameter_mm=diameter,
        release=release,
        lip_speed_mm_s=0.0 if column else float(rng.uniform(200, 600)),
        reach_ms=float(rng.uniform(4, 10)),
        takes_ms=float(rng.uniform(2, 8)),
        spread_ms=float(rng.uniform(0.1, 0.8)),
        sigma_s=float(rng.uniform(3e-5, 3e-4)),
        scale_off=float(rng.normal(0, 0.005)),
        blade_off_mm=float(rng.normal(0, 1.0)),
        careless_ms=8.0 if seed % 4 == 3 else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """One bag: what truly happened, what was inferred, and what the plan promised of its cut.

    `promised` is None where the gate only lets go what it holds.
    """

    content: int
    held_before: int
    held_after: int
    pinched: int
    inferred: Any
    promised: float | None
    promised_low: float | None
    promised_high: float | None


def measured(world: World, found: Paths, rng: np.random.Generator) -> Poured:
    """Return what the camera makes of all parts that cross the line."""
    t_s = found.arrival(LINE_MM)
    crossed = np.flatnonzero(np.isfinite(t_s))
    order = crossed[np.argsort(t_s[crossed])]
    t = t_s[order]
    speed = np.array([float(found.along(int(k), np.array(s))[1]) for k, s in zip(order, t)])  # noqa: B905
    n = len(t)
    half = world.diameter_mm / 2 * (1 + world.scale_off) + 0.03 * rng.standard_normal(n)
    return Poured(
        unit="mm",
        t_s=t + world.sigma_s * rng.standard_normal(n),
        sigma_s=np.full(n, world.sigma_s),
        speed=np.maximum(speed * (1 + world.scale_off + 0.004 * rng.standard_normal(n)), 1.0),
        sigma_speed=0.004 * np.maximum(speed, 1.0),
        ahead=half,
        behind=half,
        sigma_end=0.05,
        doubt=np.full(n, 1e-5),
        acceleration=G,
        sigma_acceleration=30.0,
        sigma_speed_share=0.005,
    )


def measured_strokes(world: World, many: int = 20) -> Strokes:
    """Return strokes of its gate, as somebody filmed them one day."""
    cycles = tuple(Cycle(open_ms=200.0 * k - 100.0, shut_ms=200.0 * k) for k in range(many))
    rng = np.random.default_rng(np.random.SeedSequence(world.seed, spawn_key=(9,)))
    made = drawn_strokes(world.gate(cycles), 0.0, rng)
    shutting = Moves(
        first_motion_s=np.full(many, np.nan),
        begins_s=np.array([s.reach_s - s.commanded_s for s in made]),
        done_s=np.array([s.shut_s - s.commanded_s for s in made]),
    )
    opening = Moves(
        first_motion_s=np.full(2, np.nan), begins_s=np.zeros(2), done_s=np.full(2, 8e-3)
    )
    return Strokes(shutting=shutting, opening=opening)


def planned(world: World, strokes: Strokes, pours: int = 6) -> CutPlan:
    """Return the plan of the cuts from a few pours that ran freely."""
    free = []
    rng = np.random.default_rng(np.random.SeedSequence(world.seed, spawn_key=(7,)))
    for k in range(pours):
        scene = world.scene(1_000_000 + 100 * world.seed + k, (_never(),), pours=1)
        free.append(measured(world, paths(scene, UNTIL_MM), rng))
    places = Places(
        beam=BEAM_MM - LINE_MM,
        blade=BLADE_MM - LINE_MM + world.blade_off_mm,
        sigma_beam=1.0,
        sigma_blade=1.0,
    )
    return plan_cuts(free, places, strokes, rate=0.9)


def filled(world: World, plan: CutPlan, strokes: Strokes, seed: int) -> list[Filling]:
    """Return four bags in a row, filled by one gate and looked at by one camera."""
    rows = {row.number: row for row in plan.rows}
    cycles = _cycles(world, rows, seed)
    found = paths(world.scene(seed, cycles), UNTIL_MM)
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(8,)))
    inferred = _inferred(world, found, strokes, rng)
    made = []
    for bag, own, need in zip(found.bags, inferred.bags, NEEDS, strict=True):
        outcome = rows[need].outcome if need else None
        made.append(
            Filling(
                content=len(bag.content),
                held_before=len(bag.held_before) + len(bag.pinched_before),
                held_after=len(bag.held_after),
                pinched=len(bag.pinched_after),
                inferred=own,
                promised=None if outcome is None else outcome.exact.estimate,
                promised_low=None if outcome is None else outcome.exact.low,
                promised_high=None if outcome is None else outcome.exact.high,
            )
        )
    return made


def _cycles(world: World, rows: Any, seed: int) -> tuple[Cycle, ...]:
    """Return the commands that the board gives: by the head edges that it counts."""
    free = paths(world.scene(seed, (_never(),)), UNTIL_MM)
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(6,)))
    edges = free.arrival(BEAM_MM - world.diameter_mm / 2).reshape(-1, POURED)
    cycles = []
    for k, need in enumerate(NEEDS):
        opens_ms = APART_MS * k - OPENS_BEFORE_MS
        if not need:
            cycles.append(Cycle(open_ms=opens_ms, shut_ms=opens_ms + EMPTY_SHUT_MS))
            continue
        trigger = rows[need].trigger
        edge = float(np.sort(edges[k])[need - trigger.back - 1])
        delay_s = 0.0 if trigger.delay_s is None else trigger.delay_s
        off_ms = world.careless_ms * float(rng.standard_normal())
        shut_ms = 1e3 * (edge + delay_s - 0.5) + off_ms
        cycles.append(Cycle(open_ms=opens_ms, shut_ms=shut_ms))
    return tuple(cycles)


def _inferred(world: World, found: Paths, strokes: Strokes, rng: np.random.Generator) -> Bags:
    assert found.gate is not None
    pour = measured(world, found, rng)
    at_s: list[float] = []
    for stroke in found.gate.strokes:
        at_s += [stroke.commanded_s, stroke.open_s]
    parts = coming(
        [pour],
        [np.ones(len(pour), dtype=np.int64)],
        BLADE_MM - LINE_MM + world.blade_off_mm,
        sigma_height=1.0,
    )
    commands = Commands(open_at_first=True, at_s=np.array(at_s[:-1]), sigma_s=1e-4)
    return bags_above(parts, commands, strokes, end_s=at_s[-2] + 1.0)


def _never() -> Cycle:
    return Cycle(open_ms=-400.0, shut_ms=60_000.0)
