"""The board that reads the sensor: what it makes of the edges, and what it loses of them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.barrier.edge import BeamEdge, boot_at, device_s
from viscount.simulate.barrier.switching import Change, switched
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Beam, Board, Scene

Array = NDArray[np.float64]

POUR_ENDS_S = 1.0
"""A board takes a pour for ended after so long without a pulse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardTruth:
    """What the board did to the sensor's edges.

    Attributes
    ----------
    pulses : interruptions that the sensor gave.
    missed_pulses : those of them that the board did not see.
    bounces : edges that chattered.
    lost_edges : edges that were numbered, and pushed out of the queue or lost in a restart.
    restarts : how often it restarted.
    """

    pulses: int = 0
    missed_pulses: int = 0
    bounces: int = 0
    lost_edges: int = 0
    restarts: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """The edges that were delivered, and what became of the others.

    `blocked_at_first` is the sensor's state at the first frame's time.
    """

    edges: tuple[BeamEdge, ...] = ()
    blocked_at_first: bool = False
    board: BoardTruth = BoardTruth()


def watched(scene: Scene, paths: Paths, until_s: float) -> Watched:
    """Return what the beam of a scene reports from the first frame's time until `until_s`."""
    beam = scene.beam
    if beam is None:
        return Watched()
    rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(6,)))
    whole = switched(scene, paths)
    given = [change for change in whole if 0 <= change[0] <= until_s]
    changes, missed = _missed(given, beam.board, rng)
    changes = _jittered(changes, beam.board, rng, until_s)
    changes, bounces = _chattering(changes, beam.board, rng, until_s)
    numbered = _numbered(beam, changes)
    kept = [edge for edge in numbered if not _pushed_out(edge, numbered, beam.board)]
    return Watched(
        edges=tuple(kept),
        blocked_at_first=any(blocked for _, blocked in [c for c in whole if c[0] < 0][-1:]),
        board=BoardTruth(
            pulses=sum(blocked for _, blocked in given),
            missed_pulses=missed,
            bounces=bounces,
            lost_edges=len(numbered) - len(kept),
            restarts=boot_at(beam, until_s),
        ),
    )


def lit_s(scene: Scene, paths: Paths) -> Array:
    """Return the stretches of time, (n, 2), in which the board lights its lamp.

    While it sees the beam blocked; or from the first pulse of a pour to its last one. What the
    board misses, the lamp does not show.
    """
    beam = scene.beam
    if beam is None or beam.lamp is None:
        return np.empty((0, 2))
    rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(6,)))
    whole = switched(scene, paths)
    changes, _ = _missed([change for change in whole if change[0] >= 0], beam.board, rng)
    before = [change for change in whole if change[0] < 0][-1:]
    found: list[tuple[float, float]] = []
    begun = -np.inf if before and before[0][1] else None
    for t, blocked in [*changes, (np.inf, False)]:
        if blocked:
            begun = t
        elif begun is not None:
            if found and beam.lamp.shows == "pours" and begun - found[-1][1] < POUR_ENDS_S:
                begun = found.pop()[0]
            found.append((begun, t))
            begun = None
    return np.array(found, dtype=np.float64).reshape(-1, 2)


def _missed(
    changes: list[Change], board: Board, rng: np.random.Generator
) -> tuple[list[Change], int]:
    """Leave some pulses out, both edges of each."""
    kept: list[Change] = []
    missed = 0
    missing = False
    for t, blocked in changes:
        if blocked:
            missing = rng.random() < board.missed
            missed += missing
        if not missing:
            kept.append((t, blocked))
    return kept, missed


def _jittered(
    changes: list[Change], board: Board, rng: np.random.Generator, until_s: float
) -> list[Change]:
    """Move each edge's time a little, within the log; edges keep their order."""
    moved = [t + board.jitter_us * 1e-6 * float(rng.standard_normal()) for t, _ in changes]
    in_order = np.clip(np.maximum.accumulate(np.array(moved)), 0.0, until_s)
    return [(t, blocked) for t, (_, blocked) in zip(in_order.tolist(), changes, strict=True)]


def _chattering(
    changes: list[Change], board: Board, rng: np.random.Generator, until_s: float
) -> tuple[list[Change], int]:
    """Let some edges go back and forth once more before the next one comes."""
    found: list[Change] = []
    bounces = 0
    for i, (t, blocked) in enumerate(changes):
        found.append((t, blocked))
        back, forth = np.sort(rng.random(2)) * board.bounce_us * 1e-6
        free = t + forth < (changes[i + 1][0] if i + 1 < len(changes) else until_s)
        if rng.random() < board.bounces and free:
            found += [(t + float(back), not blocked), (t + float(forth), blocked)]
            bounces += 1
    return found, bounces


def _numbered(beam: Beam, changes: list[Change]) -> list[BeamEdge]:
    """Return the edges with the number, the boot and the clock of the board."""
    found: list[BeamEdge] = []
    for t, blocked in changes:
        boot = boot_at(beam, t)
        again = bool(found) and found[-1].boot == boot
        found.append(
            BeamEdge(
                seq=found[-1].seq + 1 if again else 1,
                boot=boot,
                device_t_ns=round(device_s(beam, t) * 1e9),
                t_ns=round(t * 1e9),
                blocked=blocked,
            )
        )
    return found


def _pushed_out(edge: BeamEdge, edges: list[BeamEdge], board: Board) -> bool:
    """Whether an edge that came while nobody read is lost: by later ones, or by a restart."""
    t_ms = edge.t_ns * 1e-6
    for start, end in board.stalls_ms:
        if start <= t_ms < end:
            restarted = any(t_ms < restart < end for restart in board.restarts_ms)
            later = sum(t_ms < other.t_ns * 1e-6 < end for other in edges)
            return restarted or (board.queue is not None and later >= board.queue)
    return False
