"""When the line that a part is on is exposed."""

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths

Array = NDArray[np.float64]

SETTLED_S = 1e-13
"""After so small a step the next would be rounding alone: Newton's rule squares what is left."""


def own_moments(paths: Paths, up: Upright, parts: NDArray[np.intp], t_s: float) -> Array:
    """Return when the line that each part is on is exposed, in the frame with the time `t_s`.

    Newton's rule on t = delay(place(t)).
    """
    t = np.full(len(parts), t_s + up.marked_s)
    if not (up.line_s_per_row or up.line_s_per_column):
        return t
    for _ in range(8):
        place, speed = paths.along(parts, t)
        across, depth = paths.across(parts, t), paths.depth(parts, t)
        late = t - t_s - up.delay(*up.place(place, across, depth, t))
        scale = up.scale_at(place, across, depth)
        slope = 1 - up.line_s_per_row * scale * speed
        slope = slope - up.line_s_per_column * scale * paths.drift_mm_s[parts]
        step = late / np.where(np.abs(slope) < 1e-3, 1e-3, slope)
        t = t - step
        if np.abs(step).max(initial=0.0) <= SETTLED_S:
            break
    return t
