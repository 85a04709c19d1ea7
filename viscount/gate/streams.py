"""A measured pour at beam and blade, many times over: each time with errors that it may have.

What is not known of a pour is drawn and carried through the law of the fall (a Monte Carlo
propagation of distributions, JCGM 101). A draw keeps a part's errors of time and speed for both
heights, so that what cancels between them does. Errors that all parts share are the same for all
pours of a draw: the same ruler measured them. Draws are spread evenly over each error's
distribution and put together at random (a Latin hypercube), which takes most of the chance out of
what is averaged over them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from viscount import fall
from viscount.gate.places import Places
from viscount.stream import Poured

Floats = NDArray[np.float64]

_SOURCES: Final = 4
_LEAST_SPEED: Final = 0.05
"""No draw makes a part slower than this share of its speed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Streams:
    """One pour of n parts in d draws; times in s, each row in order of time.

    Attributes
    ----------
    at_beam_s : (d, n) when heads are at the beam: the k-th is what its board takes for part k.
    line_s : (d, n) when centres cross the counting line.
    head_s, tail_s : (d, n) when heads and tails are at the blade.
    """

    at_beam_s: Floats
    line_s: Floats
    head_s: Floats
    tail_s: Floats

    @property
    def parts(self) -> int:
        """How many parts the pour has."""
        return int(self.at_beam_s.shape[1])


def exactly(pour: Poured, places: Places) -> Streams:
    """Return a pour as it was measured: one draw without errors."""
    return _carried(pour, places, np.zeros((1, _SOURCES)), None)


def drawn(
    pours: Sequence[Poured], places: Places, *, groups: int, each: int, seed: int
) -> list[Streams]:
    """Return each pour in `groups` x `each` draws; those of a group share the common errors."""
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(0,)))
    common = np.repeat(_normal(rng, (groups, _SOURCES)), each, axis=0)
    return [_carried(pour, places, common, rng) for pour in pours]


def errs(pours: Sequence[Poured]) -> bool:
    """Whether single parts have errors of their own."""
    return any(pour.sigma_end > 0 or pour.sigma_s.any() or pour.sigma_speed.any() for pour in pours)


def errs_together(pours: Sequence[Poured], places: Places) -> bool:
    """Whether all parts are off together."""
    heights = places.sigma_beam > 0 or places.sigma_blade > 0
    return heights or any(p.sigma_acceleration > 0 or p.sigma_speed_share > 0 for p in pours)


def _carried(
    pour: Poured, places: Places, common: Floats, rng: np.random.Generator | None
) -> Streams:
    shape = len(common), len(pour)

    def own() -> Floats:
        return np.zeros(shape) if rng is None else _normal(rng, shape)

    acceleration, share, beam, blade = (column[:, None] for column in common.T)
    a = np.maximum(pour.acceleration + pour.sigma_acceleration * acceleration, 0.0)
    speed = pour.speed * (1.0 + pour.sigma_speed_share * share) + pour.sigma_speed * own()
    speed = np.maximum(speed, _LEAST_SPEED * pour.speed)
    line = pour.t_s + pour.sigma_s * own()
    sigma_end = [_sigma_end(pour, height) for height in (places.beam, places.blade)]
    ahead = [np.maximum(pour.ahead + sigma * own(), 0.0) for sigma in sigma_end]
    behind = np.maximum(pour.behind + sigma_end[1] * own(), 0.0)
    at_beam = places.beam + places.sigma_beam * beam
    at_blade = places.blade + places.sigma_blade * blade
    return Streams(
        at_beam_s=np.sort(line + fall.time_to(speed, a, at_beam - ahead[0]), axis=1),
        line_s=np.sort(line, axis=1),
        head_s=np.sort(line + fall.time_to(speed, a, at_blade - ahead[1]), axis=1),
        tail_s=np.sort(line + fall.time_to(speed, a, at_blade + behind), axis=1),
    )


def _sigma_end(pour: Poured, height: float) -> Floats:
    """Return (n,) by how much an end may be off at a height: parts turn on the way there."""
    way_s = fall.time_to(pour.speed, pour.acceleration, height)
    sigma: Floats = np.hypot(pour.sigma_end, pour.sigma_end_rate * way_s)
    return sigma


def _normal(rng: np.random.Generator, shape: tuple[int, int]) -> Floats:
    """Return standard normal draws: each column has one from each of as many equal shares."""
    shares = (np.arange(shape[0]) + 0.5) / shape[0]
    drawn: Floats = rng.permuted(np.broadcast_to(ndtri(shares)[:, None], shape), axis=0)
    return drawn
