"""Paths of falling parts fitted together: one acceleration for all, a start of its own for each.

Places are px along the fall from the middle of the view, positive downstream. What parts share:

- A, the acceleration in px/s² where drag and perspective are nothing;
- c, the drag: ``dv/dt = A - c v²`` (v in px/s), kept to its first power;
- k, by which share the scale grows for each px downstream: a plane seen by a pinhole camera that
  nods has ``dy/dz = 1 + k y``, so ``y = (exp(k z) - 1) / k`` of the true place z.

With ``w = u + A t``: ``z = z0 + u t + A t²/2 - c (u² t²/2 + u A t³/3 + A² t⁴/12)`` (integrating the
law of the fall twice with the drag of the fall without drag). Each part's z0 and u are eliminated
from the normal equations; its own acceleration may stray from A by `stray` (one more eliminated
unknown), as the middles of parts that turn do.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TURNS = 12
_STILL = 1e-9
"""Steps per px below which a fit has ended."""
_STEP = (1e-4, 1e-9, 1e-7)
"""Steps of the numeric derivatives: a share of A, per px, per px."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fallen:
    """The whole sightings of one part: (n,) times in s, places in px, standard uncertainties."""

    t_s: Floats
    y_px: Floats
    sigma_px: Floats

    def __len__(self) -> int:
        return int(self.t_s.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is known beforehand of drag and perspective: mean and standard uncertainty of each."""

    drag_per_px: float
    drag_u: float
    growth_per_px: float
    growth_u: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shared:
    """What a joint fit found.

    Attributes
    ----------
    values : (3,) A, c and k.
    covariance : (3, 3) from the sightings and what was known beforehand.
    by_prior : (3, 3) row j: by how much one standard uncertainty of the prior of c (row 1) or k
        (row 2) moves the values.
    chi2, freedom : weighted squares of what is left, and how many there are of it.
    """

    values: Floats
    covariance: Floats
    by_prior: Floats
    chi2: float
    freedom: int


def fit_paths(
    parts: Sequence[Fallen],
    prior: Prior,
    *,
    start: float,
    stray: float = 0.0,
    inflation: float = 1.0,
    beside: int = 1,
    free: bool = False,
) -> Shared:
    """Fit all paths together by Gauss and Newton's steps.

    Parameters
    ----------
    parts : three whole sightings each at least, in order of time.
    start : a first guess of A, px/s².
    stray : standard deviation of a part's own acceleration, px/s².
    inflation : the sightings' uncertainties are so many times what they say.
    beside : so many parts that follow each other are in view together, and share what shakes the
        camera.
    free : c stays at the prior's mean and nothing is known of k beforehand: what the paths alone
        say of how the acceleration changes.
    """
    known = np.array([0.0, 1.0 / prior.drag_u**2, 1.0 / prior.growth_u**2])
    mean = np.array([start, prior.drag_per_px, prior.growth_per_px])
    if free:
        known = np.array([0.0, 1e12 / max(prior.drag_u, 1e-12) ** 2, 0.0])
    values = mean.copy()
    starts = [_start(part, start) for part in parts]
    for _ in range(_TURNS):
        normal, right = np.diag(known), known * (mean - values)
        scores = []
        chi2 = 0.0
        for k, part in enumerate(parts):
            square, pulls, moved, left = _own_part(part, starts[k], values, stray, inflation)
            normal, right = normal + square, right + pulls.sum(axis=0)
            scores.append((pulls, moved))
            chi2 += left
        step = _solved(normal, right)
        values = values + step
        values[0] = max(values[0], 1e-3 * start)
        for k, (_, moved) in enumerate(scores):
            starts[k] = starts[k] + moved[0] + moved[1] @ step
        if abs(step[0]) < 1e-7 * values[0] and np.all(np.abs(step[1:]) < _STILL):
            break
    covariance = np.linalg.inv(normal)
    if len(parts) >= _ROBUST_FROM:
        places = np.concatenate([part.y_px for part in parts])
        covariance = _robust(normal, known, [pulls for pulls, _ in scores], places, beside)
    inverse = np.linalg.inv(normal)
    by_prior = inverse * np.sqrt(known)[:, None] if not free else np.zeros((3, 3))
    freedom = sum(len(part) for part in parts) - 2 * len(parts) - (2 if free else 1)
    return Shared(
        values=values,
        covariance=covariance,
        by_prior=by_prior,
        chi2=chi2,
        freedom=max(freedom, 1),
    )


_ROBUST_FROM = 8
"""From so many parts on, how they differ from each other says how good their mean is."""


def groups_of(n: int, beside: int) -> int:
    """Return into how many groups that share little n parts fall."""
    return max(n // max(beside, 1), min(n, _LEAST_GROUPS))


_LEAST_GROUPS = 4


_STRETCHES = 10
"""Stretches of the view in which a background, or a border, may draw all parts aside alike."""


def _robust(
    normal: Floats, known: Floats, pulls: Sequence[Floats], places: Floats, beside: int
) -> Floats:
    """Return the fit's own covariance with what parts, and places, pull apart beyond it.

    The fit knows how sightings scatter and how parts' own accelerations stray. It does not know
    that parts in view together share a shake, nor that stretches of the view draw all parts aside
    alike: by each of the two, clusters scatter more than what they consist of (Liang and Zeger,
    Biometrika 73 (1986) 13; Cameron, Gelbach and Miller, J. Bus. Econ. Stat. 29 (2011) 238). Each
    excess adds what it is, once; the greater of two estimates would be too great on average. Of
    an excess the directions in which it would be less than none are left out.
    """
    inverse: Floats = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    each = np.concatenate(pulls)
    own = np.array([pull.sum(axis=0) for pull in pulls])
    found = inverse
    if beside > 1:
        groups = np.array_split(own, groups_of(len(pulls), beside))
        shared = inverse @ (_meat([g.sum(axis=0) for g in groups]) - _meat(own)) @ inverse
        found = found + _at_least_none(shared, inverse) if shared[0, 0] > 0 else found
    edges = np.quantile(places, np.linspace(0.0, 1.0, _STRETCHES + 1)[1:-1])
    stretch = np.searchsorted(edges, places)
    by_place = _meat([each[stretch == k].sum(axis=0) for k in range(_STRETCHES)])
    drawn = inverse @ (by_place - each.T @ each) @ inverse
    return np.asarray(found + _at_least_none(drawn, inverse) if drawn[0, 0] > 0 else found)


def _at_least_none(excess: Floats, beside: Floats) -> Floats:
    """Return the nearest covariance to a symmetrical matrix: without its negative directions.

    In units of the covariance `beside` it, so that what quantities are measured in does not matter.
    """
    own = np.sqrt(np.diag(beside))
    units = np.outer(own, own)
    values, axes = np.linalg.eigh(excess / units)
    return np.asarray((axes * np.maximum(values, 0.0)) @ axes.T * units)


def _meat(sums: Sequence[Floats] | Floats) -> Floats:
    """Return the squares of what independent groups add up to."""
    table = np.array(sums)
    return np.asarray(len(sums) / max(len(sums) - 1, 1) * table.T @ table)


def _own_part(
    part: Fallen, own: Floats, values: Floats, stray: float, inflation: float
) -> tuple[Floats, Floats, tuple[Floats, Floats], float]:
    """Return a part's normal equations for what is shared, its own start eliminated.

    The right side for each sighting (n, 3). Also by how much its start moves: a constant, and for
    each shared value; and its chi².
    """
    weight = 1.0 / (inflation * part.sigma_px)
    t = part.t_s - part.t_s.mean()
    place = _place(t, own, values)
    left = (part.y_px - place) * weight
    steps = (_STEP[0] * values[0], _STEP[1], _STEP[2])
    shared = np.empty((t.size, 3))
    for j in range(3):
        up, down = values.copy(), values.copy()
        up[j] += steps[j]
        down[j] -= steps[j]
        shared[:, j] = (_place(t, own, up) - _place(t, own, down)) / (2 * steps[j])
    bent = 1.0 + values[2] * place
    alone = np.stack([bent, bent * t], axis=1)
    if stray > 0:
        alone = np.column_stack([alone, shared[:, 0]])
    shared, alone = shared * weight[:, None], alone * weight[:, None]
    inner = alone.T @ alone
    if stray > 0:
        inner[2, 2] += 1.0 / stray**2
    across = np.linalg.solve(inner, alone.T @ np.column_stack([shared, left]))
    cleared = shared - alone @ across[:, :3]
    square = shared.T @ cleared
    pulls = cleared * left[:, None]
    moved = (across[:2, 3], -across[:2, :3])
    gone = left - alone @ across[:, 3]
    return 0.5 * (square + square.T), pulls, moved, float(gone @ left)


def _place(t: Floats, own: Floats, values: Floats) -> Floats:
    start, u = own
    a, c, k = values
    drag = (u * u / 2 + (u * a / 3 + a * a * t / 12) * t) * t * t
    z = start + (u + 0.5 * a * t) * t - c * drag
    kz = k * z
    # exp(kz) - 1 over k, which loses no digits where k is small.
    return np.asarray(z * (1.0 + kz / 2 * (1.0 + kz / 3 * (1.0 + kz / 4))))


def _start(part: Fallen, a: float) -> Floats:
    t = part.t_s - part.t_s.mean()
    slope, place = np.polyfit(t, part.y_px - 0.5 * a * t * t, 1)
    return np.array([place, slope])


def _solved(normal: Floats, right: Floats) -> Floats:
    size = np.sqrt(np.diag(normal))
    size = np.where(size > 0, size, 1.0)
    scaled = normal / np.outer(size, size)
    return np.asarray(np.linalg.lstsq(scaled, right / size, rcond=1e-13)[0] / size)


def own_acceleration(part: Fallen) -> tuple[float, float]:
    """Return a part's own acceleration by a parabola, and its standard uncertainty, px/s²."""
    t = part.t_s - part.t_s.mean()
    design = np.stack([np.ones_like(t), t, 0.5 * t * t], axis=1) / part.sigma_px[:, None]
    covariance = np.linalg.pinv(design.T @ design)
    solution = covariance @ design.T @ (part.y_px / part.sigma_px)
    return float(solution[2]), float(np.sqrt(max(covariance[2, 2], 1e-30)))
