"""What happens to parts on their way: they stick, bounce, are stopped, and fall on."""

import bisect
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError
from viscount.simulate.physics.integration import (
    STEP_S,
    downward,
    fallen,
    reached,
    risen,
    upward,
)
from viscount.simulate.physics.legs import Columns, Leg, Legs, gathered
from viscount.simulate.physics.release import LetGo
from viscount.simulate.scene import Belt, Scene

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A place at which a part sticks for `for_s`, or bounces where that is None."""

    below_mm: float
    for_s: float | None


class Courses:
    """The legs of every part of a scene, made as things happen to it.

    A part at rest that is let go again starts from rest, or with the belt's speed. It meets each
    of its obstacles once.
    """

    def __init__(self, scene: Scene, free: LetGo, until_mm: float) -> None:
        self._scene = scene
        self._lip_s = free.lip_s
        n = len(free.lip_s)
        belt = scene.motion.speed_mm_s if isinstance(scene.motion, Belt) else 0.0
        self._rest, self._still = n, n + 1
        starts = free.speed_mm_s if self._plain(scene) else np.append(free.speed_mm_s, belt)
        law = downward(scene.motion)
        places, speeds = fallen(law, starts, self._farthest(scene, starts, until_mm))
        self.columns = Columns(places, speeds)
        if not self._plain(scene):
            none = np.zeros(len(places))
            self.columns = self.columns.with_more([(none, none)])
        self._legs = [[Leg(-math.inf, float(t), 0.0, k, 1)] for k, t in enumerate(free.lip_s)]
        self._met: list[list[tuple[float, Obstacle]]] = [[] for _ in range(n)]
        self._obstacles = [self._on_the_way(k) for k in range(n)]
        for k in range(n):
            self._onward(k)

    def gathered(self) -> Legs:
        """Return everything that happened so far."""
        return gathered(self._legs)

    def place(self, k: int, t_s: float) -> float:
        """Return where part `k` is; at the lip before it is let go."""
        leg = self._leg(k, t_s)
        age = np.array([t_s - leg.clock_s])
        return leg.origin_mm + float(self.columns.at(leg.column, age)[0][0])

    def arrival(self, k: int, goal_mm: float, after_s: float) -> float:
        """Return when part `k` first falls to a place from `after_s` on; inf where never."""
        if self.place(k, after_s) >= goal_mm:
            return after_s
        for i in range(self._number(k, after_s), len(self._legs[k])):
            leg = self._legs[k][i]
            t = self._crossing(leg, goal_mm) if leg.sign == 1 else math.nan
            if max(after_s, leg.start_s) <= t <= self._end(k, i) + 1e-12:
                return t
        return math.inf

    def still_from(self, k: int) -> float:
        """Return when part `k` first comes to rest, after which it no longer turns; inf never."""
        return min((leg.start_s for leg in self._legs[k] if not leg.sign), default=math.inf)

    def stop(self, k: int, t_s: float, until_s: float) -> float:
        """Stop part `k` where it is, and let it fall on from rest; returns when it does.

        That is at `until_s`, or later where it sticks at that place for longer.
        """
        here, place = self._leg(k, t_s), self.place(k, t_s)
        if not here.sign:
            until_s = max(until_s, self._end(k, self._number(k, t_s)))
        self._legs[k] = [g for g in self._legs[k] if g.start_s < t_s]
        self._met[k] = [(t, met) for t, met in self._met[k] if t < t_s]
        self._rests(k, t_s, place, until_s)
        self._onward(k)
        return until_s

    @staticmethod
    def _plain(scene: Scene) -> bool:
        return not (scene.bounce or scene.stuck or scene.gate)

    @staticmethod
    def _farthest(scene: Scene, starts: Array, until_mm: float) -> float:
        """Return how far columns must reach for every leg to get past `until_mm`."""
        places = [until_mm, *(stuck.below_lip_mm for stuck in scene.stuck)]
        rise = 0.0
        if scene.bounce:
            if isinstance(scene.motion, Belt):
                raise UsageError("a part that bounces on a belt never falls again", where="bounce")
            places.append(scene.bounce.below_lip_mm)
            # It rises above the lip by no more than its speed there would take it.
            pull = float(downward(scene.motion)(np.zeros(1))[0])
            rise = float(np.max(starts, initial=0.0)) ** 2 / (2 * max(pull, 1.0))
        return max(places) + rise

    def _on_the_way(self, k: int) -> tuple[Obstacle, ...]:
        """Return the obstacles of part `k`, from the lip down."""
        found = [
            Obstacle(stuck.below_lip_mm, stuck.for_ms * 1e-3)
            for stuck in self._scene.stuck
            if stuck.part == k
        ]
        bounce = self._scene.bounce
        if bounce and k in bounce.parts:
            found.append(Obstacle(bounce.below_lip_mm, None))
        return tuple(sorted(found, key=lambda obstacle: obstacle.below_mm))

    def _onward(self, k: int) -> None:
        """Let part `k`, now falling, meet what is left of its obstacles."""
        while self._legs[k][-1].sign == 1:
            leg, met = self._legs[k][-1], [obstacle for _, obstacle in self._met[k]]
            left = [o for o in self._obstacles[k] if o not in met and o.below_mm > leg.origin_mm]
            if not left:
                return
            obstacle = left[0]
            t = self._crossing(leg, obstacle.below_mm)
            self._met[k].append((t, obstacle))
            if obstacle.for_s is None:
                self._bounces(k, leg, t, obstacle.below_mm)
            else:
                self._rests(k, t, obstacle.below_mm, t + obstacle.for_s)

    def _rests(self, k: int, t_s: float, place_mm: float, until_s: float) -> None:
        self._legs[k].append(Leg(t_s, t_s, place_mm, self._still, 0))
        if until_s < math.inf:
            self._legs[k].append(Leg(until_s, until_s, place_mm, self._rest, 1))

    def _bounces(self, k: int, leg: Leg, t_s: float, place_mm: float) -> None:
        """Throw part `k` back up; from where it turns it falls from rest."""
        assert self._scene.bounce is not None
        speed = float(self.columns.at(leg.column, np.array([t_s - leg.clock_s]))[1][0])
        speed *= self._scene.bounce.restitution
        if speed > 0:
            places, speeds, turns_s = risen(upward(self._scene.motion), speed)
            column = self.columns.places.shape[1]
            self.columns = self.columns.with_more([(places, speeds)])
            self._legs[k].append(Leg(t_s, t_s, place_mm, column, -1))
            t_s += turns_s
            place_mm = self.place(k, t_s)
        self._legs[k].append(Leg(t_s, t_s, place_mm, self._rest, 1))

    def _crossing(self, leg: Leg, goal_mm: float) -> float:
        """Return when a falling leg is at a place, were it to go on for ever; NaN where never."""
        column = slice(leg.column, leg.column + 1)
        places, speeds = self.columns.places[:, column], self.columns.speeds[:, column]
        steps = reached(places, speeds, np.array([goal_mm - leg.origin_mm]))
        return leg.clock_s + float(steps[0]) * STEP_S

    def _starts(self, k: int) -> list[float]:
        return [leg.start_s for leg in self._legs[k]]

    def _end(self, k: int, i: int) -> float:
        """Return when leg `i` of part `k` ends."""
        return self._legs[k][i + 1].start_s if i + 1 < len(self._legs[k]) else math.inf

    def _number(self, k: int, t_s: float) -> int:
        return max(bisect.bisect_right(self._starts(k), t_s) - 1, 0)

    def _leg(self, k: int, t_s: float) -> Leg:
        return self._legs[k][self._number(k, t_s)]
