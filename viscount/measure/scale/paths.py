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
from typing import Any

import numpy as np
from numpy.typing import NDArray

from viscount.measure.scale.places import field_square, knots_over
from viscount.measure.scale.standing import Seen, rows_of

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
    by_standing : (3, 3) the covariance that comes of a pattern that stands still, also part of
        `covariance`; 0 without one.
    chi2, freedom : weighted squares of what is left, and how many there are of it.
    """

    values: Floats
    covariance: Floats
    by_prior: Floats
    by_standing: Floats
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
    inverse = np.linalg.inv(normal)
    covariance, by_standing = inverse, np.zeros((3, 3))
    if len(parts) >= _ROBUST_FROM and beside > 1:
        covariance = _robust(inverse, [pulls for pulls, _ in scores], beside)
    if len(parts) >= _PLACES_FROM:
        owns = [
            _Own.of(part, own, values, stray, inflation)
            for part, own in zip(parts, starts, strict=True)
        ]
        places = np.concatenate([part.y_px for part in parts])
        by_place = _drawn(knots_over(places).shares(places), owns, inverse)
        by_standing = _drawn(_rows(parts), owns, inverse, told=False)
        covariance = covariance + by_place + by_standing
    by_prior = inverse * np.sqrt(known)[:, None] if not free else np.zeros((3, 3))
    freedom = sum(len(part) for part in parts) - 2 * len(parts) - (2 if free else 1)
    return Shared(
        values=values,
        covariance=covariance,
        by_prior=by_prior,
        by_standing=by_standing,
        chi2=chi2,
        freedom=max(freedom, 1),
    )


_PLACES_FROM = 3
"""From so many parts on it is told that places draw them aside alike."""

_ROBUST_FROM = 8
"""From so many parts on, how they differ from each other says how good their mean is."""


def groups_of(n: int, beside: int) -> int:
    """Return into how many groups that share little n parts fall."""
    return max(n // max(beside, 1), min(n, _LEAST_GROUPS))


_LEAST_GROUPS = 4


def _robust(inverse: Floats, pulls: Sequence[Floats], beside: int) -> Floats:
    """Return the fit's own covariance with what parts in view together pull apart beyond it.

    The fit knows how sightings scatter and how parts' own accelerations stray. It does not know
    that parts in view together share a shake: such groups scatter more than what they consist of
    (Liang and Zeger, Biometrika 73 (1986) 13). The excess adds what it is; the greater of two
    estimates would be too great on average. The directions in which it would be less than none
    are left out.
    """
    own = np.array([pull.sum(axis=0) for pull in pulls])
    groups = np.array_split(own, groups_of(len(pulls), beside))
    shared = inverse @ (_meat([g.sum(axis=0) for g in groups]) - _meat(own)) @ inverse
    return inverse + _at_least_none(shared, inverse) if shared[0, 0] > 0 else inverse


def _rows(parts: Sequence[Fallen]) -> NDArray[np.bool_]:
    """Return (sightings, rows), part after part: in which row of a standing pattern each is."""
    t_s = np.concatenate([part.t_s for part in parts])
    order = np.argsort(t_s, kind="stable")
    places = np.concatenate([part.y_px for part in parts])
    number = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    seen = Seen(t_s=t_s[order], y_px=places[order], part=number[order])
    rows = np.empty(order.size, np.intp)
    rows[order] = rows_of(seen, float(np.median(np.concatenate([np.diff(p.t_s) for p in parts]))))
    return np.asarray(rows[:, None] == np.unique(rows[rows >= 0]))


def _drawn(
    shares: NDArray[Any], owns: Sequence["_Own"], inverse: Floats, *, told: bool = True
) -> Floats:
    """Return the covariance that comes of what draws many parts aside alike.

    By (sightings, m) how much each sighting, part after part, has of m such displacements. How
    large they are is `told` by what is left of the paths; else they are as large as the scatter,
    as a few of them may be without a trace: the paths follow them.
    """
    m, start = shares.shape[1], 0
    if not m:
        return np.zeros((3, 3))
    inner, left, across = np.zeros((m, m)), np.zeros(m), np.zeros((3, m))
    for own in owns:
        stop = start + own.weight.size
        columns = shares[start:stop] * own.weight[:, None]
        cleared = own.cleared(columns)
        inner += columns.T @ cleared
        across += own.shared.T @ cleared
        left += cleared.T @ own.left
        start = stop
    scatter = 1.0 / float(np.median(np.concatenate([own.weight for own in owns])))
    moved = inverse @ across
    square = field_square(inner - across.T @ moved, left, scatter) if told else scatter**2
    return np.asarray(square * moved @ moved.T)


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Own:
    """A part's equations, weighted: (n,) weights, (n, 3) derivatives by what is shared, (n, 2)
    or (n, 3) by what is its own with normal equations `inner`, and (n,) what is left."""

    weight: Floats
    shared: Floats
    alone: Floats
    inner: Floats
    left: Floats

    @staticmethod
    def of(part: Fallen, own: Floats, values: Floats, stray: float, inflation: float) -> "_Own":
        weight = 1.0 / (inflation * part.sigma_px)
        t = part.t_s - part.t_s.mean()
        place = _place(t, own, values)
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
        alone = alone * weight[:, None]
        inner = alone.T @ alone
        if stray > 0:
            inner[2, 2] += 1.0 / stray**2
        return _Own(
            weight=weight,
            shared=shared * weight[:, None],
            alone=alone,
            inner=inner,
            left=(part.y_px - place) * weight,
        )

    def cleared(self, columns: Floats) -> Floats:
        """Return (n, k) columns with what the part's own unknowns take of them eliminated."""
        across = np.linalg.solve(self.inner, self.alone.T @ columns)
        return np.asarray(columns - self.alone @ across)


def _own_part(
    part: Fallen, own: Floats, values: Floats, stray: float, inflation: float
) -> tuple[Floats, Floats, tuple[Floats, Floats], float]:
    """Return a part's normal equations for what is shared, its own start eliminated.

    The right side for each sighting (n, 3). Also by how much its start moves: a constant, and for
    each shared value; and its chi².
    """
    one = _Own.of(part, own, values, stray, inflation)
    shared, alone, left = one.shared, one.alone, one.left
    across: Floats = np.asarray(
        np.linalg.solve(one.inner, alone.T @ np.column_stack([shared, left])), dtype=np.float64
    )
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
