"""Streams of sightings with known truth, without pictures: what a perfect detector would say.

The parts' paths are written out here on their own, so that the tests do not borrow the law
from the code they judge.
"""

from dataclasses import dataclass, field

import numpy as np

from viscount.values import Blob, Sighting


@dataclass
class Stream:
    """Sightings, and for each part the time at which its centre crosses the line."""

    sightings: list[Sighting]
    crossings_s: np.ndarray
    view: tuple[int, int]
    line: float
    rng: np.random.Generator = field(repr=False)


def blob(x: float, y: float, width: float, height: float, view: tuple[int, int], *, sigma=0.1):
    """One rectangular blob, cut by the picture's border; None where nothing is left of it."""
    h, w = view
    top, bottom = max(y - height / 2, -0.5), min(y + height / 2, h - 0.5)
    left, right = max(x - width / 2, -0.5), min(x + width / 2, w - 0.5)
    if bottom - top < 1 or right - left < 1:
        return None
    box = (
        int(np.floor(left + 0.5)),
        int(np.floor(top + 0.5)),
        int(np.ceil(right + 0.5)),
        int(np.ceil(bottom + 0.5)),
    )
    cut = box[0] <= 0 or box[1] <= 0 or box[2] >= w or box[3] >= h
    rows = box[3] - box[1]
    return Blob(
        x_px=(left + right) / 2,
        y_px=(top + bottom) / 2,
        sigma_x_px=sigma,
        sigma_y_px=sigma,
        area_px=(bottom - top) * (right - left),
        box=box,
        moments=(width**2 / 12, 0.0, height**2 / 12),
        profile=np.full(rows, round(right - left), dtype=np.uint16),
        cut_by_edge=cut,
    )


def stream(
    release_s,
    speed_px_s,
    *,
    acceleration=0.0,
    lip=-80.0,
    fps=120.0,
    view=(480, 160),
    line=240.0,
    size=(16.0, 40.0),
    across=None,
    sigma=0.1,
    lead_s=0.3,
    tail_s=0.3,
    start_s=None,
    end_s=None,
    drop=(),
    miss=0.0,
    specks=0,
    shake=0.0,
    seed=0,
) -> Stream:
    """Parts that leave the lip at `release_s` with `speed_px_s` and fall down the picture.

    `drop` lists frames that are missing; `miss` is the chance that a blob is not seen; `shake`
    is the standard deviation by which each picture as a whole is displaced, along and across.
    """
    rng = np.random.default_rng(seed)
    release = np.asarray(release_s, dtype=float)
    speed = np.broadcast_to(np.asarray(speed_px_s, dtype=float), release.shape)
    x = np.full(release.shape, view[1] / 2) if across is None else np.asarray(across, dtype=float)
    fall = line - lip
    if acceleration:
        crossing = release + (np.sqrt(speed**2 + 2 * acceleration * fall) - speed) / acceleration
    else:
        crossing = release + fall / speed
    start = release.min() - lead_s if start_s is None else start_s
    end = crossing.max() + tail_s if end_s is None else end_s
    sightings = []
    for index, t in enumerate(np.arange(start, end, 1 / fps)):
        if index in drop:
            continue
        age = t - release
        y = lip + speed * age + 0.5 * acceleration * age**2
        blobs = []
        moved = rng.normal(0, shake, 2) if shake else np.zeros(2)
        for k in np.nonzero((age > 0) & (y < view[0] + size[1]))[0]:
            if rng.random() < miss:
                continue
            noise = rng.normal(0, sigma, 2) + moved
            seen = blob(x[k] + noise[0], y[k] + noise[1], *size, view, sigma=max(sigma, 0.01))
            if seen is not None:
                blobs.append(seen)
        for _ in range(specks):
            speck = blob(*rng.uniform((0, 0), (view[1], view[0])), 3.0, 3.0, view)
            blobs += [speck] if speck is not None else []
        sightings.append(Sighting(index=index, t_ns=round((t - start) * 1e9), blobs=tuple(blobs)))
    return Stream(sightings, np.sort(crossing) - start, view, line, rng)


def column(parts: int, total_s: float, jitter: float = 0.02, seed: int = 0):
    """Release times and speeds (in pitches a second) of a sliding column.

    t_n = total sqrt(n / parts) and speed = 2 n / t_n, for n from 1: one pitch of slack before
    the first part.
    """
    rng = np.random.default_rng(seed)
    n = np.arange(1, parts + 1) + rng.normal(0, jitter, parts)
    t = total_s * np.sqrt(n / parts)
    return t, 2 * n / t
