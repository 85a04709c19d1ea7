"""What the gate does to the stream: which parts it lets pass, pinches and holds.

A part that has some of its body at the height of the blade, while the blade's edge is somewhere
between its left side and its right side, is pinched where it then is. One whose leading edge
comes to the shut blade is held there, or on the back of what lies in its lane. Each falls on
from rest when the edge withdraws past its middle.

What is left out: parts do not touch each other in flight; what comes from the lip is never held
back by a full stack, but stops at the lip, inside what lies there; and what sticks on its way
holds nothing up.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from viscount.errors import UsageError
from viscount.simulate.physics.blade import Blade, Stroke, strokes
from viscount.simulate.physics.courses import Courses
from viscount.simulate.physics.legs import Array
from viscount.simulate.physics.reach import Extent, Reaches
from viscount.simulate.physics.release import LetGo
from viscount.simulate.scene import Gate, Scene

Rest = tuple[float, float | None]
"""From when until when a part lies still; None where the gate does not open again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What the gate did to one part.

    Attributes
    ----------
    fate : "none" where there is no gate; "pinched" where it ever was; "held" where it lies on
        the blade for good; "in_bag" for the rest.
    bag : number of the bag that it fell into in the end, or None.
    blade_t_s : when its centre of mass first passed the blade's height, or None.
    held_s, pinched_s : when it lay on the shut blade, and when it was pinched.
    """

    part: int
    fate: Literal["none", "in_bag", "held", "pinched"] = "none"
    bag: int | None = None
    blade_t_s: float | None = None
    held_s: tuple[Rest, ...] = ()
    pinched_s: tuple[Rest, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """One bag: what passes between two shuttings; times on the capture clock, in s.

    Attributes
    ----------
    bag : its number, that of the cycle which shuts it.
    opened_s : when the gate started to open for it; None for the first, which finds it open.
    commanded_s, reach_s, shut_s : the command to shut, and what the blade then did.
    content : the parts that fell into it.
    held_before, held_after : those that lay on the blade when it opened, and those that came to
        lie on it after it shut, until it next opened.
    pinched_before, pinched_after : those that were pinched when it opened, and as it shut.
    """

    bag: int
    opened_s: float | None
    commanded_s: float
    reach_s: float
    shut_s: float
    content: tuple[int, ...]
    held_before: tuple[int, ...]
    held_after: tuple[int, ...]
    pinched_before: tuple[int, ...]
    pinched_after: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Stop:
    """A part that the blade stops in one of its strokes."""

    part: int
    start_s: float
    until_s: float | None
    pinched: bool


class Gateway:
    """The stream of a scene at its gate; it alters the courses of the parts it stops.

    Raises
    ------
    UsageError
        Where parts bounce at or below the blade.
    """

    def __init__(
        self,
        scene: Scene,
        gate: Gate,
        courses: Courses,
        reaches: Reaches,
        free: LetGo,
        across: tuple[Array, Array],
    ) -> None:
        if scene.bounce and scene.bounce.below_lip_mm >= gate.below_lip_mm:
            raise UsageError(
                f"parts bounce {scene.bounce.below_lip_mm:g} mm below the lip, the gate is at "
                f"{gate.below_lip_mm:g} mm",
                where="bounce.below_lip_mm",
                remedy="let them bounce above the gate",
            )
        self._courses, self._reaches = courses, reaches
        self._lip_s: list[float] = free.lip_s.tolist()
        self._across, self._drift = across
        self._lanes = len(scene.lanes.positions_mm)
        self._top = gate.below_lip_mm - gate.thickness_mm / 2
        self._bottom = gate.below_lip_mm + gate.thickness_mm / 2
        first = scene.lead_in_s + min(scene.pours_ms) * 1e-3
        left, right = self._stream()
        rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(3,)))
        self.blade = Blade(strokes(gate, first, rng), left, right)
        self._stops: list[list[_Stop]] = []
        self._bag: dict[int, int] = {}
        waiting = list(range(len(self._lip_s)))
        for number, stroke in enumerate(self.blade.strokes):
            waiting = self._shut(number, stroke, waiting)

    def fates(self, blade_t_s: Array) -> tuple[Fate, ...]:
        """Return what became of each part, given when it first passed the blade's height."""
        found = []
        for k, t in enumerate(blade_t_s):
            own = [stop for stops in self._stops for stop in stops if stop.part == k]
            held = tuple((s.start_s, s.until_s) for s in own if not s.pinched)
            pinched = tuple((s.start_s, s.until_s) for s in own if s.pinched)
            fate: Literal["in_bag", "held", "pinched"] = "in_bag"
            if pinched:
                fate = "pinched"
            elif k not in self._bag:
                fate = "held"
            found.append(
                Fate(
                    part=k,
                    fate=fate,
                    bag=self._bag.get(k),
                    blade_t_s=float(t) if np.isfinite(t) else None,
                    held_s=held,
                    pinched_s=pinched,
                )
            )
        return tuple(found)

    def bags(self) -> tuple[Filled, ...]:
        """Return what each bag got."""
        found: list[Filled] = []
        for number, stroke in enumerate(self.blade.strokes):
            before = found[-1] if found else None
            stops = self._stops[number]
            found.append(
                Filled(
                    bag=number,
                    opened_s=self.blade.strokes[number - 1].open_s if before else None,
                    commanded_s=stroke.commanded_s,
                    reach_s=stroke.reach_s,
                    shut_s=stroke.shut_s,
                    content=tuple(k for k, bag in sorted(self._bag.items()) if bag == number),
                    held_before=before.held_after if before else (),
                    held_after=tuple(s.part for s in stops if not s.pinched),
                    pinched_before=before.pinched_after if before else (),
                    pinched_after=tuple(s.part for s in stops if s.pinched),
                )
            )
        return tuple(found)

    def _stream(self) -> tuple[float, float]:
        """Return the left and the right bound of all parts as they leave the lip."""
        if not len(self._lip_s):
            return -1.0, 1.0
        extents = [self._reaches.at(k, t) for k, t in enumerate(self._lip_s)]
        left = [x - e.left for x, e in zip(self._across, extents, strict=True)]
        right = [x + e.right for x, e in zip(self._across, extents, strict=True)]
        return float(min(left)), float(max(right))

    def _shut(self, number: int, stroke: Stroke, waiting: list[int]) -> list[int]:
        """Let the blade do one stroke; return the parts that have not passed it by then."""
        meets: list[tuple[float, float, int]] = []
        left = []
        for k in waiting:
            if self._lip_s[k] >= stroke.clear_s:
                left.append(k)
                continue
            near_s = max(stroke.meets(self._sides(k, stroke.reach_s)[0]), self._lip_s[k])
            if self._passed(k, near_s):
                self._bag[k] = number
                continue
            left.append(k)
            at_blade_s = self._head_at(k, self._top, near_s)
            if at_blade_s < stroke.clear_s:
                meets.append((at_blade_s, near_s, k))
        stops: list[_Stop] = []
        lying: dict[int, tuple[float, float]] = {}
        for at_blade_s, near_s, k in sorted(meets):
            stop = self._met(k, stroke, at_blade_s, near_s, lying)
            if stop:
                stops.append(stop)
        self._stops.append(stops)
        lost = {stop.part for stop in stops if stop.until_s is None}
        return [k for k in left if k not in lost]

    def _met(
        self,
        k: int,
        stroke: Stroke,
        at_blade_s: float,
        near_s: float,
        lying: dict[int, tuple[float, float]],
    ) -> _Stop | None:
        """Stop a part that meets the blade; `lying` has the top of each lane's stack, since when.

        None where the blade has already left its lane.
        """
        _, middle, side = self._sides(k, at_blade_s)
        free_s = stroke.uncovers(middle)
        if at_blade_s >= free_s:
            return None
        lane = k % self._lanes
        top, since_s = lying.get(lane, (math.inf, stroke.reach_s))
        # Where something lies in its lane, only what is already at the blade can be pinched.
        pinched = at_blade_s < stroke.covers(side) and (lane not in lying or at_blade_s <= near_s)
        start_s = at_blade_s
        if not pinched:
            start_s = self._head_at(k, min(self._top, top), since_s)
        back = self._courses.place(k, start_s) - self._extent(k, start_s).back
        lying[lane] = (min(back, top), start_s)
        until_s = self._courses.stop(k, start_s, free_s)
        return _Stop(k, start_s, until_s if until_s < math.inf else None, pinched)

    def _sides(self, k: int, t_s: float) -> tuple[float, float, float]:
        """Return the shares of the stream left of a part's left side, middle and right side."""
        t = min(t_s, self._courses.still_from(k))
        middle = float(self._across[k] + self._drift[k] * (t - self._lip_s[k]))
        extent, at = self._extent(k, t_s), self.blade.share_at
        return at(middle - extent.left), at(middle), at(middle + extent.right)

    def _extent(self, k: int, t_s: float) -> Extent:
        return self._reaches.at(k, t_s, self._courses.still_from(k))

    def _passed(self, k: int, t_s: float) -> bool:
        """Whether all of a part is below the blade."""
        return self._courses.place(k, t_s) - self._extent(k, t_s).back >= self._bottom

    def _head_at(self, k: int, goal_mm: float, after_s: float) -> float:
        """Return when a part's leading edge first is at or beyond a place, from `after_s` on."""

        def beyond(t: float) -> bool:
            return self._courses.place(k, t) + self._extent(k, t).front >= goal_mm

        after_s = max(after_s, self._lip_s[k])
        if beyond(after_s):
            return after_s
        high = self._courses.arrival(k, goal_mm, after_s)
        if high == math.inf:
            return high
        low = after_s
        while high - low > 1e-10:
            middle = (low + high) / 2
            low, high = (low, middle) if beyond(middle) else (middle, high)
        return high
