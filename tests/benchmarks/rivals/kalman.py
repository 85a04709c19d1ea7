"""A Kalman filter of constant velocity for each part, and an optimal assignment a frame."""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from benchmarks.rivals.stream import Points, Stream
from filterpy.common import Q_discrete_white_noise
from filterpy.kalman import KalmanFilter
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

Floats = NDArray[np.float64]

CENTRE_PX = 1.0
"""Sigma of a centroid. A detector's own is smaller, but parts turn, and come in cut."""
SPEED_SHARE = 0.3
"""Sigma of a new part's speed as a share of the speed with which parts enter."""
UNKNOWN_SPEED = 0.25
"""Where no part was ever alone: speed and its sigma per frame, as a share of the picture."""
SIDEWAYS_SHARE = 0.05
"""The same across the fall."""
GATE = 9.21
"""Squared Mahalanobis distance that 99 % of true links stay below (chi-squared, 2 degrees)."""
SETTLED, RECENT = 4, 5
"""Once it has seen its part whole so often, a track tells how fast parts enter now; the last
five are kept, since the speed changes along a pour."""
PATIENCE = 2
"""Frames for which a track that found no centroid is kept."""


@dataclass(slots=True)
class _Track:
    """State: place and speed down the fall, then across it, in px and px per frame."""

    filter: KalmanFilter
    places: list[Floats]
    whole: list[bool]
    missed: int = 0


def crossings(stream: Stream) -> int:
    """Return how many tracks crossed the line."""
    active: list[_Track] = []
    ended: list[_Track] = []
    recent: deque[tuple[float, float]] = deque(maxlen=RECENT)
    before: int | None = None
    for frame in stream.frames:
        # Frames that show nothing are predicted through; more than patience allows end all.
        steps = 1 if before is None else min(frame.number - before, PATIENCE + 2)
        for track in active:
            for _ in range(steps):
                track.filter.predict()
            track.missed += steps
        before = frame.number
        free = _link(active, frame)
        recent += [_entry(t) for t in active if sum(t.whole) == SETTLED and t.whole[-1]]
        active += [_born(frame, k, stream, recent) for k in sorted(free)]
        ended += [t for t in active if t.missed > PATIENCE]
        active = [t for t in active if t.missed <= PATIENCE]
    return sum(stream.crossed([float(p[0]) for p in t.places]) for t in ended + active)


def _link(tracks: list[_Track], frame: Points) -> set[int]:
    """Give each track its centroid, all at once; return the centroids that are left."""
    free = set(range(len(frame.place)))
    if not tracks:
        return free
    never = 1e6
    cost = np.full((len(tracks), len(frame.place)), never)
    for row, track in enumerate(tracks):
        kalman = track.filter
        spread = kalman.H @ kalman.P @ kalman.H.T + kalman.R
        off = frame.place - (kalman.H @ kalman.x).ravel()
        distance = np.einsum("ni,ij,nj->n", off, np.linalg.inv(spread), off)
        # Twice the negative log-likelihood: a vague track does not take a sure one's part.
        surprise = distance + math.log(float(np.linalg.det(spread)))
        cost[row] = np.where(distance <= GATE, surprise, never)
    for row, column in zip(*linear_sum_assignment(cost), strict=True):
        if cost[row, column] < never:
            tracks[row].filter.update(frame.place[column])
            tracks[row].places.append(frame.place[column])
            tracks[row].whole.append(bool(frame.whole[column]))
            tracks[row].missed = 0
            free.discard(int(column))
    return free


def _born(frame: Points, k: int, stream: Stream, recent: Sequence[tuple[float, float]]) -> _Track:
    """Start a track with the speed of the parts before it, else with any that could be."""
    place = frame.place[k]
    known = list(recent) or [
        (float(p[0]), float(m[0])) for p, m in zip(*stream.lone_moves, strict=True)
    ]
    if known:
        speed = min(known, key=lambda one: abs(one[0] - place[0]))[1]
        sigma = SPEED_SHARE * speed
    else:
        speed = sigma = UNKNOWN_SPEED * stream.length
    kalman = KalmanFilter(dim_x=4, dim_z=2)
    kalman.F = np.array([[1, 1, 0, 0], [0, 1, 0, 0], [0, 0, 1, 1], [0, 0, 0, 1]], dtype=float)
    kalman.H = np.array([[1, 0, 0, 0], [0, 0, 1, 0]], dtype=float)
    kalman.R = np.eye(2) * CENTRE_PX**2
    # As unsteady as a part that gains its own speed again over the picture's length.
    gain = speed**2 / stream.length
    kalman.Q = Q_discrete_white_noise(dim=2, dt=1.0, var=gain**2, block_size=2)
    kalman.x = np.array([[place[0]], [speed], [place[1]], [0.0]])
    sideways = max(SIDEWAYS_SHARE * speed, CENTRE_PX)
    kalman.P = np.diag([CENTRE_PX**2, sigma**2, CENTRE_PX**2, sideways**2])
    return _Track(kalman, [place], [bool(frame.whole[k])])


def _entry(track: _Track) -> tuple[float, float]:
    """Return where a settled track first saw its part whole, and its move from there.

    While the border still cuts a part its centroid moves too little.
    """
    first, second = [p for p, w in zip(track.places, track.whole, strict=True) if w][:2]
    return float(first[0]), float(second[0] - first[0])
