"""What draws all parts aside alike where they are seen at the same places.

Compression, and what a background has learned, move a centre by as much for each part that stands
there. Parts seen all over the view average that out; parts of an even stream that come by at the
same few places, frame after frame, never do, however many there are. So the centres' errors are
noise of their own and a field along the fall: independent from knot to knot, straight between them.

How large the field is, is told by how sightings of many parts are left aside together of the
paths, in the directions that the paths do not follow (a restricted likelihood: Patterson and
Thompson, Biometrika 58 (1971) 545). Where there are none it may be as large as the whole scatter.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KNOT_PX = 8.0
"""From knot to knot: a block, in which pictures are compressed (ITU-T T.81, A.1; H.264, 6.4)."""
MOST_KNOTS = 128
_MOST_SHARE = np.sqrt(3.0)
"""Greatest field that is thought of, as a share of the scatter: any up to it is as likely before
it is looked for, so that its mean square is then the scatter's own."""
_STEPS = 64
_NONE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knots:
    """Where the field has its knots, evenly from `first` on, `step` px apart, `count` of them."""

    first: float
    step: float
    count: int

    def shares(self, places: Floats) -> Floats:
        """Return (n, count): how much of each knot's displacement a sighting has."""
        at = (places[:, None] - self.first) / self.step - np.arange(self.count)
        return np.maximum(1.0 - np.abs(at), 0.0)


def knots_over(places: Floats) -> Knots:
    """Return knots that hold all places between them."""
    low, high = float(places.min()), float(places.max())
    count = min(int(np.ceil((high - low) / KNOT_PX)) + 1, MOST_KNOTS)
    step = max((high - low) / max(count - 1, 1), KNOT_PX)
    first = 0.5 * (low + high) - 0.5 * step * (count - 1)
    return Knots(first=first, step=step, count=count)


def field_square(inner: Floats, left: Floats, scatter_px: float) -> float:
    """Return the expected square of the field at a knot, px².

    Parameters
    ----------
    inner : (m, m) normal equations of the knots, all that the paths follow eliminated.
    left : (m,) their right side: what is left of the paths, with variance ``inner`` where there is
        noise alone, and ``inner + s² inner²`` with a field of variance s².
    scatter_px : standard deviation of one sighting.
    """
    values, axes = np.linalg.eigh(inner)
    told = values > _NONE * max(float(values[-1]), 1e-300)
    known, pull = values[told], (axes.T @ left)[told] ** 2 / values[told]
    field = np.linspace(0.0, _MOST_SHARE * scatter_px, _STEPS) ** 2
    spread = 1.0 + field[:, None] * known
    log = -0.5 * (np.log(spread) + pull / spread).sum(axis=1)
    weights = np.exp(log - log.max())
    weights[[0, -1]] *= 0.5
    return float(weights @ field / weights.sum())
