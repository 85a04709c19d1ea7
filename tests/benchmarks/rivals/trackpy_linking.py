"""trackpy, a linker of particles, with its predictor that takes the nearest known velocity.

Its documentation advises a search range as small as the true links allow, because candidates
multiply with it, and with a predictor the range has to cover the error of the prediction only.
So the range is half the usual distance between neighbours: any wider and a neighbour's place is
as near as one's own. Where candidates still multiply (SubnetOversizeException) it advises
adaptive search, which narrows the range there until the linking can be solved.
"""

import warnings
from itertools import chain

import numpy as np
import pandas as pd
import trackpy
from benchmarks.rivals.stream import Stream
from trackpy.linking import SubnetOversizeException
from trackpy.predict import NearestVelocityPredict

RANGE = 0.5
"""The search range as a share of the usual distance between neighbours."""
RANGE_ALONE = 0.5
"""The same as a share of the picture's length, where parts are always alone."""
MEMORY = 1
"""Frames for which a part may be missing: one, for parts that merge for a moment."""
ADAPTIVE_STOP = 0.1
"""Adaptive search gives up below this share of the range."""
ADAPTIVE_STEP = 0.9
"""It narrows the range in steps of a tenth, the value that the tutorial uses."""
COLUMNS = ["y", "x"]


class _Remembering(NearestVelocityPredict):  # type: ignore[misc]
    """Keeps the last velocities where two frames have no part in common.

    The class it is made from falls back to no velocity there, and would lose every later part
    of a stream in which parts come one at a time.
    """

    def observe(self, frame: pd.DataFrame) -> None:
        """Take the velocities of this frame, if it has any."""
        known = getattr(self, "interpolator", None)
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Could not generate velocity field")
            super().observe(frame)
        if known is not None and not hasattr(self.interpolator, "values"):
            self.interpolator = known


def crossings(stream: Stream) -> int:
    """Return how many linked particles crossed the line."""
    if not stream.frames:
        return 0
    trackpy.quiet()
    try:
        linked = _linked(stream)
    except SubnetOversizeException:
        linked = _linked(stream, adaptive=True)
    tracks = linked.sort_values("frame").groupby("particle")["y"]
    return sum(stream.crossed(list(down)) for _, down in tracks)


def _linked(stream: Stream, *, adaptive: bool = False) -> pd.DataFrame:
    reach = RANGE * stream.spacing if stream.spacing else RANGE_ALONE * stream.length
    options = {"adaptive_stop": ADAPTIVE_STOP * reach, "adaptive_step": ADAPTIVE_STEP}
    with warnings.catch_warnings():
        # Of its own use of pandas; nothing that a user could change.
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", FutureWarning)
        return _predictor(stream).link_df(
            _table(stream), reach, memory=MEMORY, **(options if adaptive else {})
        )


def _predictor(stream: Stream) -> NearestVelocityPredict:
    """Start from the velocities of parts that were alone, at the places where they had them."""
    places, moves = stream.lone_moves
    if not len(places):
        return _Remembering(pos_columns=COLUMNS)
    return _Remembering(places, moves, pos_columns=COLUMNS)


def _table(stream: Stream) -> pd.DataFrame:
    numbers = chain.from_iterable([f.number] * len(f.place) for f in stream.frames)
    table = pd.DataFrame(np.concatenate([f.place for f in stream.frames]), columns=COLUMNS)
    return table.assign(frame=list(numbers))
