"""What pulses tell of themselves, where nobody has said what one part looks like.

Most pulses of a pour are single parts, so that the usual pulse is one. Two things may be
otherwise: a part with a bore gives two pulses, and then every part repeats the light of its bore;
and pulses may have no usual length at all. Either is said, never guessed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from viscount.beam.learning import closest, scatter
from viscount.values import Mode, Signature

Floats = NDArray[np.float64]

FEWEST = 3
"""With fewer pulses none of them is usual."""
USUAL_SHARE = 0.35
"""So many pulses at least are of the usual length."""
SHORTER, LONGER, SECOND, ODD_SHARE = 0.8, 1.2, 1.6, 0.15
"""So few may be shorter than this share of it (a part adds to a pulse, never takes from it), or
between these two: longer than one, and too short for two that do not pass side by side."""
TREND_PULSES, TREND_WINDOW = 15, 11
"""In so long a pour lengths may change along it, as parts come faster and faster."""
SAME_LIGHT = 0.05
"""Lights that differ by less than this share may be the same bore."""
LIGHT_SHARE = 0.3
"""At least this share of lights is the bore's, where parts have one."""
SAME_WALLS, WALLS_SHARE = 0.25, 0.8
"""The pulses on both sides of so many bores differ by less than this share."""
LIGHT_PER_DARK = 8.0
"""A bore is no longer than so many of the pulses beside it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """What pulses look like.

    Attributes
    ----------
    signature : of a part that is the usual pulse, in ms.
    pace : (n,), by what the lengths at each pulse are multiplied to be those of one speed.
    usual : whether there is a usual length.
    paired : how many parts there would be if parts had bores; None where nothing speaks for it.
    """

    signature: Signature
    pace: Floats
    usual: bool
    paired: int | None


def guessed(darks_ms: Floats, lights_ms: Floats, whole: NDArray[np.bool_]) -> Guess:
    """Return what pulses, one or more, tell of themselves.

    `lights_ms` are those before each pulse, nan where another row begins; `whole` says which
    pulses were seen from start to end.
    """
    lengths = darks_ms[whole] if np.any(whole) else darks_ms
    lengths = np.maximum(lengths, 1e-6)
    pace = np.ones(len(darks_ms))
    alike, usual = _usual(lengths)
    if not usual and len(lengths) >= TREND_PULSES:
        trend = median_filter(lengths, size=TREND_WINDOW, mode="nearest")
        pace_seen = float(np.median(lengths)) / trend
        straight = lengths * pace_seen
        among, fits = _usual(straight)
        if fits:
            alike, usual, lengths = among, fits, straight
            at = np.flatnonzero(whole if np.any(whole) else ~whole)
            pace = np.interp(np.arange(len(pace)), at, pace_seen)
    own = lengths[alike][:, None]
    mode = Mode(chance=1.0, darks=(float(np.median(own)),), lights=(), sigma=scatter(own))
    return Guess(
        signature=Signature(unit="ms", modes=(mode,)),
        pace=pace,
        usual=usual,
        paired=_paired(darks_ms * pace, lights_ms * pace),
    )


def _usual(lengths: Floats) -> tuple[NDArray[np.bool_], bool]:
    """Return which lengths are the usual one, and whether it deserves the name."""
    alike = closest(lengths[:, None])
    middle = float(np.median(lengths[alike]))
    shares = lengths / middle
    odd = np.mean((shares < SHORTER) | ((shares > LONGER) & (shares < SECOND)))
    enough = len(lengths) >= FEWEST and alike.mean() >= USUAL_SHARE
    return alike, bool(enough and odd <= ODD_SHARE)


def _paired(darks: Floats, lights: Floats) -> int | None:
    """Return the number of parts if the light that comes back most often is a bore's.

    No two bores follow each other with one pulse between: that would be an even stream.
    """
    known = np.flatnonzero(np.isfinite(lights) & (lights > 0))
    short = known[lights[known] <= LIGHT_PER_DARK * np.median(darks)]
    if not len(short):
        return None
    same = short[closest(lights[short][:, None], SAME_LIGHT)]
    few = 2 if len(known) <= 4 else 3 if len(known) <= 8 else 4
    if len(same) < max(few, LIGHT_SHARE * len(known)):
        return None
    walls = np.abs(np.log(np.maximum(darks[same], 1e-9) / np.maximum(darks[same - 1], 1e-9)))
    if np.mean(walls < SAME_WALLS) < WALLS_SHARE:
        return None
    in_turn = np.sum(np.diff(same) == 1)
    return None if in_turn > 0.1 * len(same) else len(darks) - len(same)
