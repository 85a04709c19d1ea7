"""The speed of a stream, found without following any part.

Each pair of blobs in neighbouring frames that could be one part votes for the speed that it
would have at the line. True pairs agree; false pairs scatter, or, in a regular stream, agree
on a false speed too. What tells them apart are the votes that ought to be there and are not:
a part that should still be in view and is missing, or that appears where no part can enter.
The whole pour decides together: its front and its tail are where a false speed shows.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from viscount import fall
from viscount.motion import ridges
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.spread import robust_sd

Floats = NDArray[np.float64]

POSITION_NOISE_PX = 0.7
"""Typical scatter of a tumbling part's centre, which widens the speed grid at slow speeds."""
RELATIVE_STEP = 0.015
"""Step of the speed grid where noise does not matter."""
SPECK_SHARE, SPECK_PX = 0.1, 40.0
"""Blobs below this share of the usual area, and this area, say nothing of a part's motion."""
MAX_PAIRS = 60_000
LEAST_STEP_S = 1e-5
"""Between a border's exposure and a part's in the neighbouring frame, at least."""
LEAST_SHARE = 0.25
"""An explanation must find this share of the votes that the richest one finds."""
LEAST_SIGNIFICANCE = 0.2
"""An explanation this much less significant than the best is not followed up."""
MAX_SHORTLIST = 8
REFINING_FACTOR = 1.1
REFINING_STEPS = 3
"""Accelerations tried about each candidate: so many steps of that factor up and down."""
NEARBY = 12
"""Steps of the grid by which a speed may change with that: not as far as to another candidate."""
FEW_WINDOWS, STEEP = 12, 12
"""In a short pour of fewer windows, the speed of a column may grow by a fifth from each to the
next."""
NEAR = 0.2
"""Votes within this share of an explanation's speed are its own."""
WIDTHS = (2.0, 4.0, 8.0)
"""Widths of a vote in steps of the grid, the one that stands out most is taken."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs:
    """All pairs of blobs of neighbouring frames that could be one part.

    y0, y1 : (p,) places; dt : (p,) elapsed s; t : (p,) time of the earlier; weight : (p,).
    """

    y0: Floats
    y1: Floats
    dt: Floats
    t: Floats
    weight: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Census:
    """For each whole blob and each of its neighbouring frames: the fastest way to leave.

    y : (c,) place; mean_speed : (c,) mean speed at which it would just be in view there;
    dt : (c,) elapsed s, negative towards the frame before; t : (c,) time of the blob;
    weight : (c,) what the blob's vote counts.
    """

    y: Floats
    mean_speed: Floats
    dt: Floats
    t: Floats
    weight: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Explanation:
    """One way to explain the pour: a speed at the line for each window, one acceleration.

    Attributes
    ----------
    t_s, speed : (k,) middle of each window, and the speed at the line there.
    acceleration : px/s².
    found : votes for it; a pair of blobs that it calls one part.
    misses : votes that it expects and that are not there.
    excess : votes above those that chance gives.
    width : width of a vote, steps of the speed grid.
    trend : about how many of these steps the speed grows by from window to window.
    """

    t_s: Floats
    speed: Floats
    acceleration: float
    width: float
    trend: int
    found: float
    misses: float
    excess: float

    @property
    def support(self) -> float:
        """Share of the expected votes that are there."""
        return self.found / max(self.found + self.misses, 1e-9)

    def unlike(self, other: "Explanation") -> bool:
        """Whether the two call other blobs one part: their speeds differ by 15 % or more.

        That throughout; or by 8 % somewhere, where the one is steep and the other is not.
        """
        apart = np.log(self.speed / other.speed)
        if self.trend != other.trend:
            return bool(np.abs(apart).max() > np.log(1.08))
        return bool(abs(np.median(apart)) > np.log(1.15))

    @property
    def significance(self) -> float:
        """Votes above chance, in standard deviations of what chance gives (Poisson)."""
        return self.excess / float(np.sqrt(max(self.found - self.excess, 0.0) + 1.0))


def speed_grid(
    geometry: Geometry, interval_s: float, limits: tuple[float | None, float | None]
) -> Floats:
    """Return the speeds at the line that can be told apart, px/s, ascending."""
    view = geometry.bottom - geometry.top
    low = 0.3 / interval_s if limits[0] is None else limits[0]
    high = max(view / interval_s, 1.5 * low) if limits[1] is None else limits[1]
    noise = POSITION_NOISE_PX * np.sqrt(2.0) / interval_s
    grid = [low]
    while grid[-1] < high:
        grid.append(grid[-1] + 0.5 * float(np.hypot(2 * RELATIVE_STEP * grid[-1], noise)))
    return np.array(grid)


def usual_area(frames: list[Detections]) -> float:
    """Return the area such that half of all foreground lies in larger blobs, specks left out.

    Dust that is always in view may come to hold more of it than parts that pass: a speck is first
    told by the squares of areas, of which specks hold next to nothing.
    """
    areas = np.sort(np.concatenate([frame.area for frame in frames]))
    areas = areas[~specks(areas, _middle(areas, areas**2))]
    return _middle(areas, areas)


def specks(areas: Floats, usual: float) -> NDArray[np.bool_]:
    """Tell which areas are dust: far below the usual one, and small whatever that is.

    Where a hand passes too, it has most of the foreground, and parts may be far below it.
    """
    return np.asarray((areas < SPECK_SHARE * usual) & (areas < SPECK_PX))


def _middle(areas: Floats, weights: Floats) -> float:
    """Return the weighted median of ascending areas."""
    total = weights.cumsum()
    return float(areas[np.searchsorted(total, 0.5 * total[-1])])


def pairs_of(frames: list[Detections], max_sideways: float, area: float) -> Pairs:
    """Collect the pairs of neighbouring frames, at most about `MAX_PAIRS` of them.

    A blob's vote weighs the root of its area over the usual `area`, at most 1; a speck's nothing.
    """
    usable = [(a, b) for a, b in pairwise(frames) if len(a) and len(b) and a.seeing and b.seeing]
    total = sum(len(a) * len(b) for a, b in usable)
    stride = max(1, -(-total // MAX_PAIRS))
    rows = [_frame_pairs(a, b, max_sideways, area) for a, b in usable[::stride]]
    y0, y1, dt, t, weight = np.concatenate([*rows, np.empty((5, 0))], axis=1)
    return Pairs(y0=y0, y1=y1, dt=dt, t=t, weight=weight * stride)


def census_of(frames: list[Detections], geometry: Geometry, area: float) -> Census:
    """Collect for each blob how fast it may go and still be seen in the neighbouring frame."""
    rows = [np.empty((5, 0))]
    for a, b in pairwise(frames):
        if a.seeing and b.seeing:
            rows += [_room(a, b, geometry, area), _room(b, a, geometry, area)]
    y, mean_speed, dt, t, weight = np.concatenate(rows, axis=1)
    return Census(y=y, mean_speed=mean_speed, dt=dt, t=t, weight=weight)


def _room(here: Detections, there: Detections, geometry: Geometry, area: float) -> Floats:
    whole = ~here.cut
    y, half = here.y[whole], 0.5 * here.length[whole]
    later = there.t_s > here.t_s
    border = geometry.bottom - half if later else geometry.top + half
    # The border's own line is exposed then.
    dt = there.t_s + geometry.delay_s(border, here.x[whole]) - here.time_s[whole]
    dt = np.maximum(dt, LEAST_STEP_S) if later else np.minimum(dt, -LEAST_STEP_S)
    mean_speed = np.maximum((border - y) / dt, 0.0)
    weight = _weight(here.area[whole], area)
    return np.stack([y, mean_speed, dt, here.time_s[whole], weight])


def _weight(areas: Floats, usual: float) -> Floats:
    share = np.minimum(areas / usual, 1.0)
    return np.where(specks(areas, usual), 0.0, np.sqrt(share))


class Ballot:
    """The votes of one pour, and what they explain under any acceleration."""

    def __init__(self, pairs: Pairs, census: Census, grid: Floats, windows: int) -> None:
        self._pairs = pairs
        self._census = census
        self._grid = grid
        told = census.t[census.weight > 0] if census.weight.any() else census.t
        low, high = float(told.min()), float(told.max())
        self._edges = np.linspace(low, high + 1e-6, windows + 1)

    def explanations(self, acceleration: float) -> list[Explanation]:
        """Return the paths of speeds that stand out under one acceleration."""
        votes, expected = self._count(acceleration)
        short = len(self._edges) - 1 < FEW_WINDOWS
        return [
            one
            for trend in ((0, STEEP) if short else (0,))
            for one in self._standing_out(votes, expected, acceleration, trend)
        ]

    def _standing_out(
        self, votes: Floats, expected: Floats, acceleration: float, trend: int
    ) -> list[Explanation]:
        best: list[Explanation] = []
        for width in WIDTHS:
            found = np.minimum(_widened(votes, width), expected)
            paths = ridges.standing_out(found, width, trend)
            kept = [self._explained(p, found, expected, acceleration, width, trend) for p in paths]
            if kept and (not best or kept[0].significance > best[0].significance):
                best = kept
        return best

    def sharpened(self, one: Explanation) -> Explanation:
        """Return the same explanation under the acceleration nearby that suits it best."""
        best = one
        for step in range(-REFINING_STEPS, REFINING_STEPS + 1):
            acceleration = one.acceleration * REFINING_FACTOR**step
            votes, expected = self._count(acceleration)
            found = np.minimum(_widened(votes, one.width), expected)
            excess = found - ridges.chance(found, one.width)
            middle = np.interp(one.speed, self._grid, np.arange(self._grid.size))
            far = np.abs(np.arange(self._grid.size) - middle[:, None]) > NEARBY
            path = ridges.best_path(np.where(far, -1e3, excess), one.trend)
            other = self._explained(path, found, expected, acceleration, one.width, one.trend)
            if other.significance > best.significance:
                best = other
        return best

    def _count(self, acceleration: float) -> tuple[Floats, Floats]:
        """Return votes given and votes expected, (windows, speeds)."""
        votes = _votes(self._pairs, self._grid, acceleration, self._edges)
        return votes, _expected(self._census, self._grid, acceleration, self._edges)

    def _explained(
        self,
        path: NDArray[np.intp],
        found: Floats,
        expected: Floats,
        acceleration: float,
        width: float,
        trend: int,
    ) -> Explanation:
        rows = np.arange(path.size)
        return Explanation(
            t_s=0.5 * (self._edges[1:] + self._edges[:-1]),
            speed=self._grid[path],
            acceleration=acceleration,
            width=width,
            trend=trend,
            found=float(found[rows, path].sum()),
            misses=float((expected - found)[rows, path].sum()),
            excess=float((found - ridges.chance(found, width))[rows, path].sum()),
        )


def shortlist(candidates: list[Explanation]) -> list[Explanation]:
    """Return the explanations worth following up, the most significant of each speed.

    In a regular stream several speeds explain the votes; only following the parts through
    front and tail of the pour can tell which is right.
    """
    if not candidates:
        return []
    most = max(one.found for one in candidates)
    best = max(one.significance for one in candidates)
    able = [
        one
        for one in candidates
        if one.found >= LEAST_SHARE * most and one.significance >= LEAST_SIGNIFICANCE * best
    ]
    kept: list[Explanation] = []
    for one in sorted(able, key=lambda c: -c.significance):
        if len(kept) < MAX_SHORTLIST and all(one.unlike(other) for other in kept):
            kept.append(one)
    return kept


def scatter(pairs: Pairs, winner: Explanation) -> float:
    """Return the relative scatter of the votes near the winner, as a standard deviation."""
    at_line = line_speeds(pairs, winner.acceleration)
    ratio = at_line / np.interp(pairs.t, winner.t_s, winner.speed) - 1.0
    near = ratio[np.abs(ratio) < NEAR]
    if near.size < 8:
        return 0.1
    return float(np.clip(robust_sd(near), 0.01, NEAR))


def lead_s(pairs: Pairs, winner: Explanation) -> float:
    """Return how long after being seen the parts are at the line, by the median of the pairs."""
    at_line = line_speeds(pairs, winner.acceleration)
    ratio = at_line / np.interp(pairs.t, winner.t_s, winner.speed) - 1.0
    near = np.abs(ratio) < NEAR
    if not near.any():
        return 0.0
    until = -fall.time_to(at_line[near], winner.acceleration, pairs.y0[near])
    return float(np.median(until))


def line_speeds(pairs: Pairs, acceleration: float) -> Floats:
    """Return the speed at the line that each pair stands for; NaN where it stands for none."""
    start_speed = (pairs.y1 - pairs.y0) / pairs.dt - 0.5 * acceleration * pairs.dt
    square = start_speed**2 - 2.0 * acceleration * pairs.y0
    return np.where((square > 0) & (start_speed > 0), np.sqrt(np.maximum(square, 0)), np.nan)


def _frame_pairs(a: Detections, b: Detections, max_sideways: float, area: float) -> Floats:
    i, j = np.nonzero(_alike(a, b, max_sideways))
    whole = ~(a.cut[i] | b.cut[j])
    i, j = i[whole], j[whole]
    dt = b.time_s[j] - a.time_s[i]
    forward = (b.y[j] > a.y[i]) & (dt > 0)
    i, j, dt = i[forward], j[forward], dt[forward]
    weight = _weight(np.minimum(a.area[i], b.area[j]), area)
    return np.stack([a.y[i], b.y[j], dt, a.time_s[i], weight])


def _alike(a: Detections, b: Detections, max_sideways: float) -> NDArray[np.bool_]:
    sideways = np.abs(a.x[:, None] - b.x[None, :])
    ratio = np.log(a.area[:, None] / b.area[None, :])
    return np.asarray((sideways <= max_sideways) & (np.abs(ratio) < np.log(4.0)))


def _votes(pairs: Pairs, grid: Floats, acceleration: float, edges: Floats) -> Floats:
    speeds = line_speeds(pairs, acceleration)
    known = np.isfinite(speeds)
    steps = np.interp(speeds[known], grid, np.arange(grid.size), left=-1, right=-1)
    inside = steps >= 0
    counts, _, _ = np.histogram2d(
        pairs.t[known][inside],
        steps[inside],
        bins=(edges, np.arange(grid.size + 1) - 0.5),
        weights=pairs.weight[known][inside],
    )
    return np.asarray(counts, dtype=np.float64)


def _widened(votes: Floats, width: float) -> Floats:
    """Let each vote count in full where it is, and less `width` steps away."""
    peak = 1.0 / (width * np.sqrt(2 * np.pi))
    return np.asarray(gaussian_filter1d(votes, width, axis=1, mode="constant") / peak)


def _expected(census: Census, grid: Floats, acceleration: float, edges: Floats) -> Floats:
    """Return how many pairs there ought to be for each window and speed, (windows, speeds).

    A blob expects its successor while its path stays in the view until the next frame, and
    its forerunner while its path was in the view at the frame before.
    """
    here = census.mean_speed - 0.5 * acceleration * census.dt
    at_line = fall.line_speed(np.maximum(here, 0.0), acceleration, census.y)
    limit = np.where(here > 0, at_line, 0.0)
    window = np.clip(np.searchsorted(edges, census.t, side="right") - 1, 0, edges.size - 2)
    place = np.searchsorted(grid, limit, side="right")
    counts = np.zeros((edges.size - 1, grid.size + 1))
    np.add.at(counts, (window, place), 0.5 * census.weight)
    # A blob expects a partner at each speed up to its limit.
    return np.asarray(counts[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:])
