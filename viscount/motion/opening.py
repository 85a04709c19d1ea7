"""Regions of several parts that come apart on their way: each part goes on by itself.

What came in as one region and was never seen as one part is as many parts as it comes apart into,
and each of them was in it before.
"""

import math
from dataclasses import replace

import numpy as np

from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.parts import CLUMP
from viscount.motion.prediction import Prediction, predict
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Axis, Track

LEAST_PART = 0.6
"""What it comes apart into are parts: each has this share of a part's area at least."""
LEAST_TOGETHER, MOST_TOGETHER = 0.8, 1.5
"""Together they cover about as much as the region did, or more where one hid half of another."""
WITHIN = 0.3
"""Of a region's length, and breadth: a part in it may be so far from where it is thought to be."""


def opened(
    tracks: list[Track], now: Detections, model: SpeedModel, geometry: Geometry
) -> list[Track]:
    """Return the tracks; in place of each whose region has come apart, those of its parts.

    Parameters
    ----------
    now : the frame in which these parts are seen; it is linked to what is returned.
    """
    if not model.tight or not any(_is_large(track, model) for track in tracks):
        return tracks
    ahead = predict(tracks, now, geometry)
    found: list[Track] = []
    for i, track in enumerate(tracks):
        apart = _apart(i, track, ahead, now, model) if _is_large(track, model) else []
        found += [_part(track, ahead, i, now, j) for j in apart] or [track]
    return found


def _is_large(track: Track, model: SpeedModel) -> bool:
    """Whether all that was ever seen of a track is larger than a part."""
    if track.area < CLUMP * model.area_px:
        return False
    areas = [sight.area for sight in track.whole]
    return bool(areas) and min(areas) > CLUMP * model.area_px


def _apart(
    i: int, track: Track, ahead: Prediction, now: Detections, model: SpeedModel
) -> list[int]:
    """Return which blobs a track's region has come apart into; none where it has not.

    These are two or more, where the region ought to be now, and where nothing else ought to be.
    """
    last = track.whole[-1]
    within_y = np.abs(now.y - ahead.place[i]) < 0.5 * last.length
    within_x = np.abs(now.x - ahead.side[i]) < 0.5 * _breadth(last)
    others = np.delete(ahead.covering, i, axis=0).any(axis=0)
    parts = within_y & within_x & ~now.cut & ~others & (now.area > LEAST_PART * model.area_px)
    together = float(now.area[parts].sum()) / last.area
    if parts.sum() < 2 or not LEAST_TOGETHER < together < MOST_TOGETHER:
        return []
    return [int(j) for j in np.flatnonzero(parts)]


def _breadth(sight: Sight) -> float:
    """Return the breadth of an even region of the same second moment across the fall."""
    return math.sqrt(12.0 * sight.var_across)


def _part(track: Track, ahead: Prediction, i: int, now: Detections, j: int) -> Track:
    """Return the track of one part of a region: as far from its middle before as it is now."""
    beside_y, beside_x = now.y.item(j) - ahead.place.item(i), now.x.item(j) - ahead.side.item(i)
    last = track.whole[-1]
    off_y, off_x = WITHIN * last.length, WITHIN * _breadth(last)
    return replace(
        track,
        along=_moved(track.along, beside_y, off_y),
        across=_moved(track.across, beside_x, off_x),
        sights=[_shared(sight, beside_y, beside_x, off_y, off_x) for sight in track.sights],
        length=now.length.item(j),
        behind=0.5 * now.length.item(j),
        area=now.area.item(j),
        full=0.0,
    )


def _moved(axis: Axis, by: float, off: float) -> Axis:
    return replace(axis, place=axis.place + by, var_place=axis.var_place + off**2)


def _shared(sight: Sight, by_y: float, by_x: float, off_y: float, off_x: float) -> Sight:
    return replace(
        sight,
        y=sight.y + by_y,
        x=sight.x + by_x,
        var_y=sight.var_y + off_y**2,
        var_x=sight.var_x + off_x**2,
        alone=False,
    )
