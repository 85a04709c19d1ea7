"""Where parts come from and where they go: what it costs that one is new, and that one is lost.

Cheap where a part can have entered since the last frame, and where it can have left or hid.
"""

import numpy as np
from numpy.typing import NDArray

from viscount.motion import sharing
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import LEAST_SIGMA_PX, Prediction
from viscount.motion.speed import SpeedModel

Floats = NDArray[np.float64]
Kinds = NDArray[np.intp]

ENTRY = 6.0
"""Cost of a new part where parts enter."""
MIDWAY = 18.0
"""Cost of a new part where none can enter unseen."""
BESIDE = 10.0
"""Cost of a new part next to a track that it may have been hidden by."""
EXIT = 1.0
"""Cost of losing a part where it can have left the view."""
HIDDEN = 3.0
"""Cost of losing a part whose place is covered by another blob."""
LOST = 9.0
"""Cost of losing a part in plain view."""
SPECK = 0.05
"""What is below this share of a part's area is a speck of dust, or a part's corner at a border."""
SPECK_LOST = 3.0
"""Cost of losing a speck anywhere: dust comes and goes."""
ORIGINS = ("entry", "midway", "beside", "side", "first frame")
"""Where new parts come from."""
ENDS = ("exit", "hidden", "side", "midway")
"""Where lost ones went,"""
ENDING = np.array([EXIT, HIDDEN, EXIT + 2, LOST])
"""and what that costs, at least."""


def births(
    geometry: Geometry,
    model: SpeedModel,
    ahead: Prediction,
    now: Detections,
    speeds: tuple[Floats, Floats],
    last: Detections | None,
) -> tuple[Floats, Kinds]:
    """Return (m,) what it costs that the blobs are new parts, and which of `ORIGINS` they have.

    `speeds` are what parts have at the blobs' places, and its sigma; `last` is the last frame.
    """
    m = len(now)
    if last is None or not m:
        return np.full(m, ENTRY), np.full(m, ORIGINS.index("first frame"))
    # Where would the part have been in the last frame? In the view, it would have been seen.
    before, ago = _before_now(geometry, model, now, last.t_s, speeds[0])
    sigma = speeds[1] * ago + LEAST_SIGMA_PX
    # A part shows as soon as its head does, and counts as seen with half of it in view.
    border = geometry.top + 0.25 * now.length
    excess = np.maximum((before - border) / sigma, 0.0)
    entry = ENTRY + np.minimum(0.5 * excess**2, MIDWAY - ENTRY)
    entry = np.where(now.tail <= geometry.top, np.minimum(entry, ENTRY + 1), entry)
    dear = entry > BESIDE
    if not dear.any():
        return entry, np.zeros(m, dtype=np.intp)
    side = now.cut_side & dear
    beside = sharing.near_a_track(ahead, now) & dear
    cost = np.where(side | beside, BESIDE, entry)
    # As numbered in `ORIGINS`: the later ones stand over the earlier.
    kinds = np.where(side, 3, np.where(beside, 2, np.where(cost > BESIDE, 1, 0)))
    return cost, kinds


def _before_now(
    geometry: Geometry, model: SpeedModel, now: Detections, then_s: float, speed: Floats
) -> tuple[Floats, Floats]:
    """Return where new parts would have been seen in the frame at `then_s`, and how long ago.

    That is when the line that they were on was exposed.
    """
    acceleration = model.acceleration

    def path(at_s: Floats) -> tuple[Floats, Floats, Floats]:
        elapsed = at_s - now.time_s
        place = now.y + (speed + 0.5 * acceleration * elapsed) * elapsed
        return place, now.x, speed + acceleration * elapsed

    first_s = now.time_s - (now.t_s - then_s)
    at_s = geometry.exposed_s(then_s, first_s, path)
    return path(at_s)[0], now.time_s - at_s


def deaths(geometry: Geometry, model: SpeedModel, ahead: Prediction) -> tuple[Floats, Kinds]:
    """Return (n,) what it costs that the tracks are lost, and which of `ENDS` their parts met."""
    half = 0.5 * ahead.length
    room = geometry.bottom - half - ahead.place
    back = np.where(ahead.speed < 0, ahead.place - half - geometry.top, np.inf)
    inside = np.minimum(room, back) / ahead.sigma
    low, high = geometry.sides
    leaves = inside < 3.0
    aside = np.minimum(ahead.side - low, high - ahead.side) < half
    # As numbered in `ENDS`: the earlier ones stand over the later.
    kinds = np.where(leaves, 0, np.where(ahead.covered, 1, np.where(aside, 2, 3)))
    cost = ENDING[kinds] + np.where(leaves, np.maximum(inside, 0.0), 0.0)
    speck = model.tight & (ahead.area < SPECK * model.area_px)
    return np.where(speck, np.minimum(cost, SPECK_LOST), cost), kinds
