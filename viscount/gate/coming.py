"""The parts of all pours as they come to the blade, in order, with what is not known of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from viscount.stream import Poured, at_height

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coming:
    """n entries, each one part or a clump of them; times on the capture clock, in s.

    Attributes
    ----------
    head_s, tail_s : (n,) when heads and tails are at the blade, if nothing stops them; heads rise.
    own_s : (n,) standard uncertainty of each one's times, its own.
    common_s : by source, (n,) what one standard deviation of it adds to all of them.
    parts : (n,) how many parts each entry is.
    doubt : (n,) chance that `parts` is wrong.
    length : (n,) along the fall, in the unit of `acceleration`.
    acceleration, speed : of every part; and the usual speed at the blade.
    line_to_blade_s : the shortest way from the line to the blade.
    """

    head_s: Floats
    tail_s: Floats
    own_s: Floats
    common_s: Mapping[str, Floats]
    parts: Ints
    doubt: Floats
    length: Floats
    acceleration: float
    speed: float
    line_to_blade_s: float

    def __len__(self) -> int:
        return len(self.head_s)

    def falls_s(self, way: ArrayLike) -> Floats:
        """Return how long a way from rest takes; on a belt, with its speed."""
        lengths, a = np.asarray(way, dtype=np.float64), self.acceleration
        falls: Floats = np.sqrt(2.0 * lengths / a) if a > 0 else lengths / self.speed
        return falls


NONE_COMING = Coming(
    head_s=np.empty(0),
    tail_s=np.empty(0),
    own_s=np.empty(0),
    common_s=MappingProxyType({}),
    parts=np.empty(0, dtype=np.int64),
    doubt=np.empty(0),
    length=np.empty(0),
    acceleration=0.0,
    speed=1.0,
    line_to_blade_s=0.0,
)
"""A recording in which nothing moved."""


def coming(
    pours: Sequence[Poured], parts: Sequence[Ints], below_line: float, *, sigma_height: float
) -> Coming:
    """Carry pours to the blade.

    Parameters
    ----------
    parts : for each pour, how many parts each of its entries is.
    below_line : height of the blade, downstream from the line, in the unit of the pours.
    """
    if not pours:
        return NONE_COMING
    streams = [at_height(pour, below_line, sigma_height=sigma_height) for pour in pours]
    head = np.concatenate([stream.head_s for stream in streams])
    order = np.argsort(head, kind="stable")

    def joined(arrays: Sequence[Floats]) -> Floats:
        return np.concatenate(list(arrays))[order]

    many = np.concatenate(list(parts))[order]
    not_one = joined([pour.doubt for pour in pours])
    return Coming(
        head_s=head[order],
        tail_s=joined([stream.tail_s for stream in streams]),
        own_s=joined([stream.own_s for stream in streams]),
        common_s=MappingProxyType(
            {
                key: joined([stream.common_s[key] for stream in streams])
                for key in streams[0].common_s
            }
        ),
        parts=many,
        doubt=np.where(many == 1, not_one, 1.0 - not_one),
        length=joined([pour.ahead + pour.behind for pour in pours]),
        acceleration=pours[0].acceleration,
        speed=max(float(np.median(np.concatenate([s.speed for s in streams]))), 1e-9),
        line_to_blade_s=min(
            float((s.centre_s - p.t_s).min()) for s, p in zip(streams, pours, strict=True)
        ),
    )
