"""Every part followed to the blade: in the bag, held for the next one, or in the blade's way.

A part is through where its tail is past the blade before the blade enters the stream, and held
where its head comes after the stream is closed; between these it is in the blade's way, and may
be pinched. What is held starts from rest when the gate opens: the last of those that lie there
has passed after the way of all their lengths (y = a t²/2, any mechanics textbook; the longest
way, all in one lane), and what comes meanwhile passes after them.

The chances are normal in what each part is off by itself, averaged over draws of what all share:
clocks, heights, scale, and the stroke of the blade.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from viscount.gate.coming import Coming
from viscount.gate.commands import Commands
from viscount.gate.moving import DRAWS, Moving, moving
from viscount.gate.strokes import Strokes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FAR: Final = 8.0
"""So many standard uncertainties from a stroke the fate of a part is sure."""
_GONE: Final = 1e-9
_FALLS_WITHIN: Final = 0.1
"""How long what is held takes to fall past the blade is known to about this share."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Met:
    """The m entries that one cycle of the gate met.

    Attributes
    ----------
    entry : (m,) their indices.
    inside : (d, m) chance under each draw that the entry fell into this bag.
    held, caught : (m,) chance that it then lies on the blade, or was in its way.
    before : (m,) chance that it came to this cycle at all, and not to an earlier bag.
    carried : (m,) whether it lay on the blade already, or in it, as the gate opened.
    surely_inside, surely_held : the entries beside these that came so long before or after the
        blade that nothing is to be asked.
    """

    entry: Ints
    inside: Floats
    held: Floats
    caught: Floats
    before: Floats
    carried: NDArray[np.bool_]
    surely_inside: slice
    surely_held: slice


def followed(
    parts: Coming, commands: Commands, strokes: Strokes, *, lay_before: int = 0
) -> list[Met]:
    """Return what each cycle of the gate met, in order.

    `lay_before` more parts lie below all others on the blade as it first opens.
    """
    cycles, rng = moving(commands, strokes)
    following = _Following(parts, rng, lay_before)
    return following.through(cycles, shut_at_first=not commands.open_at_first)


@dataclass(frozen=True, slots=True, eq=False)
class _Above:
    """Entries that may still be above the blade: their times under each draw, (d, m)."""

    entry: Ints
    chance: Floats
    head_s: Floats
    tail_s: Floats
    own_s: Floats
    lying: Floats
    """(m,) chance that it lies on the blade, or in it."""


class _Following:
    def __init__(self, parts: Coming, rng: np.random.Generator, lay_before: int) -> None:
        self._parts = parts
        self._below = lay_before * float(np.median(parts.length)) if len(parts) else 0.0
        self._sources = {key: _normal(rng) for key in parts.common_s}
        self._next, self._end = 0, len(parts)
        common = sum((c**2 for c in parts.common_s.values()), np.zeros(len(parts)))
        self._margin_s = _FAR * float(np.sqrt(parts.own_s**2 + common).max(initial=0.0))
        self._passes_s = float((parts.tail_s - parts.head_s).max(initial=0.0))
        self._blocked_s = np.full((DRAWS, 1), -np.inf)

    def through(self, cycles: tuple[Moving, ...], *, shut_at_first: bool) -> list[Met]:
        """Let all cycles pass, one after the other."""
        found: list[Met] = []
        waiting = self._come(-np.inf)
        if shut_at_first and cycles:
            waiting = self._reopened(self._all_up_to(waiting, cycles[0]), cycles[0])
            self._below = 0.0
        for k, cycle in enumerate(cycles):
            following = cycles[k + 1] if k + 1 < len(cycles) else None
            inside = self._surely_inside(cycle)
            held = self._surely_held(cycle) if following is None else slice(0, 0)
            waiting = self._all_up_to(waiting, following)
            met, left = self._shut(waiting, cycle, following)
            found.append(replace(met, surely_inside=inside, surely_held=held))
            if following is not None:
                waiting = self._reopened(left, following)
        return found

    def _surely_inside(self, cycle: Moving) -> slice:
        """Pass over what is long through when the blade enters, and return it."""
        first, head_s = self._next, self._parts.head_s
        if cycle.enters_s is None:
            self._next = len(head_s)
        elif (enters_s := float(cycle.enters_s.min())) > float(self._blocked_s.max()):
            until_s = enters_s - self._passes_s - self._margin_s
            self._next = max(first, int(np.searchsorted(head_s, until_s)))
        return slice(first, self._next)

    def _surely_held(self, cycle: Moving) -> slice:
        """Leave out what comes long after the last time that the gate is shut, and return it."""
        head_s = self._parts.head_s
        last = len(head_s)
        if cycle.closed_s is not None:
            until_s = float(cycle.closed_s.max()) + self._margin_s
            self._end = max(self._next, int(np.searchsorted(head_s, until_s)))
        return slice(self._end, last)

    def _all_up_to(self, waiting: _Above, opening: Moving | None) -> _Above:
        """Add what comes before the gate has opened again; all the rest where it never does."""
        until = np.inf
        if opening is not None and opening.opened_s is not None:
            until = float(opening.opened_s.max()) + self._margin_s
        return _joined(waiting, self._come(until))

    def _come(self, until_s: float) -> _Above:
        """Return the entries that come next, with their heads at the blade up to a time."""
        parts, first = self._parts, self._next
        following = int(np.searchsorted(parts.head_s, until_s, side="right"))
        self._next = max(first, min(following, self._end))
        own = slice(first, self._next)
        shape = (DRAWS, self._next - first)
        off = np.zeros(shape)
        for key, drawn in self._sources.items():
            off += drawn[:, None] * parts.common_s[key][own]
        head_s, tail_s = parts.head_s[own] + off, parts.tail_s[own] + off
        return _Above(
            entry=np.arange(first, self._next),
            chance=np.ones(shape),
            head_s=head_s,
            tail_s=self._after_held(head_s, tail_s),
            own_s=np.broadcast_to(parts.own_s[own], shape),
            lying=np.zeros(shape[1]),
        )

    def _shut(self, above: _Above, cycle: Moving, following: Moving | None) -> tuple[Met, _Above]:
        if cycle.enters_s is None or cycle.closed_s is None:
            passes, stopped = np.ones_like(above.chance), np.zeros_like(above.chance)
        else:
            passes = _normal_chance(cycle.enters_s[:, None] - above.tail_s, above.own_s)
            stopped = _normal_chance(above.head_s - cycle.closed_s[:, None], above.own_s)
        lies = self._before_opening(above, following)
        met = Met(
            entry=above.entry,
            inside=above.chance * passes,
            held=(above.chance * stopped * lies).mean(axis=0),
            caught=(above.chance * np.maximum(1.0 - passes - stopped, 0.0)).mean(axis=0),
            before=above.chance.mean(axis=0),
            carried=above.lying > 0.5,
            surely_inside=slice(0, 0),
            surely_held=slice(0, 0),
        )
        chance = above.chance * (1.0 - passes)
        keep = chance.mean(axis=0) > _GONE
        left = _Above(
            above.entry[keep],
            chance[:, keep],
            above.head_s[:, keep],
            above.tail_s[:, keep],
            above.own_s[:, keep],
            np.zeros(int(keep.sum())),
        )
        return met, left

    def _before_opening(self, above: _Above, following: Moving | None) -> Floats:
        """Return the chance that each entry's head comes before the gate opens again."""
        if following is None or following.uncovers_s is None:
            return np.ones_like(above.chance)
        return _normal_chance(following.uncovers_s[:, None] - above.head_s, above.own_s)

    def _reopened(self, left: _Above, opening: Moving) -> _Above:
        """Let what lies on the blade fall, from rest; what comes meanwhile passes after it."""
        if opening.uncovers_s is None or opening.opened_s is None or not len(left.entry):
            return left
        lies = left.head_s < opening.uncovers_s[:, None]
        way = self._below + np.cumsum(lies * self._parts.length[left.entry], axis=1)
        falls = self._parts.falls_s(way)
        passed = opening.opened_s[:, None] + falls
        last = np.where(lies, passed, -np.inf).max(axis=1, keepdims=True)
        self._blocked_s = last
        return _Above(
            entry=left.entry,
            chance=left.chance,
            head_s=np.where(lies, -np.inf, left.head_s),
            tail_s=np.where(lies, passed, self._after_held(left.head_s, left.tail_s)),
            own_s=np.where(lies, _FALLS_WITHIN * falls, left.own_s),
            lying=lies.mean(axis=0),
        )

    def _after_held(self, head_s: Floats, tail_s: Floats) -> Floats:
        """What comes before all that was held has fallen passes after it."""
        blocked = self._blocked_s
        return np.where(head_s < blocked, np.maximum(tail_s, blocked), tail_s)


def _joined(one: _Above, other: _Above) -> _Above:
    return _Above(
        *(
            np.concatenate([getattr(one, name), getattr(other, name)], axis=-1)
            for name in _Above.__slots__
        )
    )


def _normal(rng: np.random.Generator) -> Floats:
    """Return standard normal draws, one from each of as many equal shares."""
    drawn: Floats = rng.permutation(ndtri((np.arange(DRAWS) + 0.5) / DRAWS))
    return drawn


def _normal_chance(margin_s: Floats, sigma_s: Floats) -> Floats:
    """Return the chance that a margin is met."""
    chance: Floats = ndtr(margin_s / np.maximum(sigma_s, 1e-12))
    return chance
