"""The profile of a pour: the law of the column fitted to when its parts left the lip.

Part n leaves at ``t = start + k sqrt(n)`` with ``k = sqrt(2 p / a)``, p the pitch and a the
column's acceleration, and with the speed ``sqrt(2 a n p)``. So times give a / p, speeds give
a p, and both together a and p apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from viscount import fall
from viscount.measure.heights import Height
from viscount.stream import Poured, at_height

Floats = NDArray[np.float64]

FEWEST = 6
VAGUE_S = 0.05
"""A part that is carried to the lip with no more certainty than this tells nothing there."""
MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """A fitted column.

    Attributes
    ----------
    place : "lip", or "line" where parts do not fall freely from a known lip.
    lip_by : what tells how far the lip is: "outlet", "speeds", or None.
    lip_below_line : that, in the pour's unit (negative: above the line); None likewise.
    fall : the acceleration below the lip.
    start_s, sigma_start_s : when the column began to move.
    k_s, sigma_k_s : see above.
    rms_s : root mean square of the residuals, one freedom for each thing that was fitted.
    parts : how many parts it rests on. stops : for how many pauses time was taken out.
    a_p, sigma_a_p : acceleration times pitch by the speeds alone, in the unit² / s²; None where
        they do not grow.
    number : (n,) of each passage in the column, from 1, empty places counted.
    t_s, residual_s : (n,) when each was at that place, and how late that is; NaN where not used.
    """

    place: str
    lip_by: str | None
    lip_below_line: float | None
    fall: float
    start_s: float
    sigma_start_s: float
    k_s: float
    sigma_k_s: float
    rms_s: float
    parts: int
    stops: int
    a_p: float | None
    sigma_a_p: float | None
    number: Floats
    t_s: Floats
    residual_s: Floats

    @property
    def a_per_pitch_s2(self) -> float:
        """Effective acceleration over pitch, 1/s²."""
        return 2.0 / self.k_s**2

    @property
    def sigma_a_per_pitch_s2(self) -> float:
        """Standard uncertainty of that."""
        return 2.0 * self.sigma_k_s / self.k_s * self.a_per_pitch_s2

    @property
    def places(self) -> int:
        """How many places the column has up to its last part, empty ones counted."""
        return round(float(self.number[-1]))

    @property
    def emptied_s(self) -> float:
        """How long it takes from rest until its last part has left, without its stops."""
        return self.k_s * float(np.sqrt(self.places))

    def interval_s(self, number: int) -> float:
        """Return the interval from part `number` to the next by the law."""
        return float(self.k_s * (np.sqrt(number + 1.0) - np.sqrt(number)))

    def intervals_at(self, below_line: float, last: int) -> Floats | None:
        """Return the intervals of parts 1 to `last` by the law, carried down to a height.

        None where the speeds do not tell how fast parts leave, or the lip is unknown.
        """
        lip = self.lip_below_line
        if lip is None or self.a_p is None:
            return None
        number = np.arange(1.0, last + 1.0)
        at_line = fall.line_speed(np.sqrt(2.0 * self.a_p * number), self.fall, lip)
        way = fall.time_to(at_line, self.fall, below_line) - fall.time_to(at_line, self.fall, lip)
        return np.asarray(np.diff(self.k_s * np.sqrt(number) + way), dtype=np.float64)


def profile(
    poured: Poured,
    number: Floats,
    *,
    lip: Height | None,
    use: NDArray[np.bool_],
    pauses: Sequence[int] = (),
) -> Profile | None:
    """Fit the column's law to a pour; None where too few parts tell anything.

    Parameters
    ----------
    number : (n,) of each passage in its pour, from 1.
    lip : of the lip, in the pour's unit; None where unknown.
    use : (n,) passages that are one part each.
    pauses : the stream stood still before each of these passages, for a time that is fitted too.
    """
    a_p, sigma_a_p, drop, sigma_drop = _by_speeds(poured, number, use)
    lip_by = None
    if lip is not None and lip.unit == poured.unit and poured.acceleration > 0.0:
        lip_by, drop, sigma_drop = "outlet", -lip.below_line, lip.sigma
    elif drop is not None:
        lip_by = "speeds"
    t_s, own_s = poured.t_s, poured.sigma_s
    common: Mapping[str, Floats] = {}
    if lip_by is not None and drop is not None:
        centres = replace(poured, sigma_end=0.0, sigma_end_rate=0.0)
        stream = at_height(centres, -drop, sigma_height=sigma_drop)
        t_s, own_s, common = stream.centre_s, stream.own_s, stream.common_s
    told = use & (own_s < VAGUE_S)
    steps = [k for k in pauses if told[:k].any() and told[k:].any()]
    if np.count_nonzero(told) < FEWEST + len(steps):
        return None
    design = np.stack(
        [np.ones(len(number)), np.sqrt(number)]
        + [(np.arange(len(number)) >= k).astype(np.float64) for k in steps],
        axis=1,
    )
    fit = _robust(design[told], t_s[told], own_s[told])
    late = t_s - design @ fit.value
    # The fit is linear near its end: what shifts all times together shifts it by the same sums.
    shifts = [fit.pull @ shift[told] for shift in common.values()]
    variance = np.diag(fit.covariance) + sum(np.square(s) for s in shifts)
    if fit.value[1] <= 0.0:
        return None
    return Profile(
        place="line" if lip_by is None else "lip",
        lip_by=lip_by,
        lip_below_line=None if lip_by is None or drop is None else -drop,
        fall=poured.acceleration,
        start_s=float(fit.value[0]),
        sigma_start_s=float(np.sqrt(variance[0])),
        k_s=float(fit.value[1]),
        sigma_k_s=float(np.sqrt(variance[1])),
        rms_s=fit.rms,
        parts=int(np.count_nonzero(told)),
        stops=len(steps),
        a_p=a_p,
        sigma_a_p=sigma_a_p,
        number=number,
        t_s=np.where(told, t_s, np.nan),
        residual_s=np.where(told, late, np.nan),
    )


def _by_speeds(
    poured: Poured, number: Floats, use: NDArray[np.bool_]
) -> tuple[float | None, float | None, float | None, float]:
    """Return a p with its sigma, and how far the lip is above the line with its own.

    ``v² = 2 a p n + 2 g drop`` at the line. None where speeds do not grow, or nothing falls.
    """
    if np.count_nonzero(use) < FEWEST:
        return None, None, None, 0.0
    square = poured.speed**2
    sigma = 2.0 * poured.speed * poured.sigma_speed
    design = np.stack([np.ones(len(number)), number], axis=1)[use]
    fit = _robust(design, square[use], sigma[use])
    slope, error = float(fit.value[1]), float(np.sqrt(fit.covariance[1, 1]))
    if slope <= 3.0 * error:
        return None, None, None, 0.0
    error = float(np.hypot(error, 2.0 * poured.sigma_speed_share * slope))
    g = poured.acceleration
    if g <= 0.0 or fit.value[0] <= 0.0:
        return slope / 2.0, error / 2.0, None, 0.0
    drop = float(fit.value[0]) / (2.0 * g)
    share = np.hypot(2.0 * poured.sigma_speed_share, poured.sigma_acceleration / g)
    sigma_drop = np.hypot(np.sqrt(fit.covariance[0, 0]) / (2.0 * g), share * drop)
    return slope / 2.0, error / 2.0, drop, float(sigma_drop)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """Values, covariance, root mean square of residuals, and the sums that make the values."""

    value: Floats
    covariance: Floats
    rms: float
    pull: Floats


def _robust(design: Floats, y: Floats, sigma: Floats) -> _Fit:
    """Fit a linear model to which some places do not belong.

    Places scatter by more than they are known to; how much more is found from the fit's own
    residuals. Soft l1 loss (Triggs et al., Bundle adjustment, 2000, as in scipy), whose weights
    at the end are used for the covariance. The first column of `design` is of ones.
    """
    middle = float(np.median(y))
    y = y - middle
    value: Floats = np.linalg.lstsq(design, y, rcond=None)[0].astype(np.float64)
    scatter, total = 0.0, sigma
    for _ in range(3):
        late = y - design @ value
        spread = MAD_TO_SIGMA * float(np.median(np.abs(late - np.median(late))))
        scatter = np.sqrt(max(spread**2 - float(np.median(sigma)) ** 2, 0.0))
        least = 1e-12 * max(float(np.abs(y).max()), 1e-12)
        total = np.asarray(np.maximum(np.hypot(sigma, scatter), least), dtype=np.float64)
        value = _softly(design / total[:, None], np.asarray(y / total, np.float64), value)
    late = y - design @ value
    weight = 1.0 / np.sqrt(1.0 + (late / total) ** 2) / total**2
    freedom = max(len(y) - design.shape[1], 1)
    inverse = np.linalg.inv(design.T @ (weight[:, None] * design))
    misfit = max(float(np.sum(weight * late**2)) / freedom, 1.0)
    return _Fit(
        value=value + np.eye(len(value))[0] * middle,
        covariance=misfit * inverse,
        rms=float(np.sqrt(np.sum(late**2) / freedom)),
        pull=inverse @ (design.T * weight),
    )


def _softly(design: Floats, y: Floats, start: Floats) -> Floats:
    """Return the values with the least soft l1 loss; all in units of each place's own scatter."""

    def residual(value: Floats) -> Floats:
        return y - design @ value

    def slope(_: Floats) -> Floats:
        return -design

    found = optimize.least_squares(residual, start, jac=slope, loss="soft_l1", x_scale="jac")
    return np.asarray(found.x, dtype=np.float64)
