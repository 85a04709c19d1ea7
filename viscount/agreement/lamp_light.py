"""When a lamp in the picture went on and off, from its light in each frame."""

from array import array
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from viscount.values import Frame, LampEvent

Floats = NDArray[np.float64]

LEAST_GREY = 8.0
"""A lamp that is not this much brighter when lit cannot be told from its surroundings."""
LEAST_SIGMA = 6.0
"""Nor one that is not so many times brighter than its light scatters."""
HYSTERESIS = 0.25
"""On from this share of the way above the middle between dark and lit, off from as much below."""
ROUNDS = 20
ROOT_TWELVE = 12.0**0.5
"""A time somewhere in a stretch has this part of its length as its standard uncertainty."""
MAD_TO_SIGMA = 1.4826


class LampLight:
    """The light of a lamp, frame by frame; keeps one number and one time of each.

    Parameters
    ----------
    box : (x0, y0, x1, y1), half-open: where the lamp is in the picture.
    delay_s : how long after a frame's time the first and the last of the lamp's lines are exposed.
    """

    def __init__(
        self, box: tuple[int, int, int, int], delay_s: tuple[float, float] = (0.0, 0.0)
    ) -> None:
        self._box = box
        self._delay_ns = round(0.5e9 * (delay_s[0] + delay_s[1]))
        self._readout_ns = 1e9 * abs(delay_s[1] - delay_s[0])
        self._t_ns = array("q")
        self._grey = array("d")

    def look(self, frame: Frame) -> None:
        """Take in one frame; a repeated or damaged picture says nothing."""
        if frame.repeated or frame.damaged:
            return
        x0, y0, x1, y1 = self._box
        self._t_ns.append(frame.t_ns + self._delay_ns)
        self._grey.append(float(frame.pixels[y0:y1, x0:x1].mean()))

    def events(self, origin_ns: int = 0) -> tuple[LampEvent, ...]:
        """Return when it went on and off, in order of time, counted from `origin_ns`.

        Each lies between the last frame that shows the one and the first that shows the other.
        None where the light does not part into dark and lit.
        """
        grey, t_ns = np.array(self._grey), np.array(self._t_ns, dtype=np.int64)
        parted = _dark_and_lit(grey)
        return () if parted is None else tuple(self._switched(grey, t_ns - origin_ns, *parted))

    def _switched(
        self, grey: Floats, t_ns: NDArray[np.int64], dark: float, lit: float
    ) -> Iterator[LampEvent]:
        share = (grey - dark) / (lit - dark) - 0.5
        told = np.flatnonzero(np.abs(share) > HYSTERESIS)
        on = share[told] > 0
        for k in np.flatnonzero(on[1:] != on[:-1]):
            before, after = int(t_ns[told[k]]), int(t_ns[told[k + 1]])
            sigma = np.hypot(after - before, self._readout_ns) / ROOT_TWELVE
            yield LampEvent(
                t_ns=(before + after) // 2, on=bool(on[k + 1]), sigma_ns=max(round(float(sigma)), 1)
            )


def _dark_and_lit(grey: Floats) -> tuple[float, float] | None:
    """Return the light of the lamp when dark and when lit, or None where it has one light only.

    Two means, begun at both extremes (Lloyd 1982): a lamp that is lit in few frames, or dark in
    few, has both all the same.
    """
    if grey.size < 2:
        return None
    dark, lit = float(grey.min()), float(grey.max())
    for _ in range(ROUNDS):
        is_lit = grey > 0.5 * (dark + lit)
        if is_lit.all() or not is_lit.any():
            return None
        found = float(np.median(grey[~is_lit])), float(np.median(grey[is_lit]))
        if found == (dark, lit):
            break
        dark, lit = found
    is_lit = grey > 0.5 * (dark + lit)
    off = np.abs(grey - np.where(is_lit, lit, dark))
    sigma = MAD_TO_SIGMA * float(np.median(off))
    return (dark, lit) if lit - dark > max(LEAST_GREY, LEAST_SIGMA * sigma) else None
