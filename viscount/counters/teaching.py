"""What the pour itself teaches of one part: parts that the camera saw pass alone, by their pulses.

Where no part file says what one part does to the beam, the camera does: a passage that surely was
one part, with the pulses that are its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from viscount.agreement.arrival import Arrival
from viscount.beam.learning import MAD_TO_SIGMA, learn_signature
from viscount.values import Mode, Pairing, Pairs, Pulse, Signature

FEWEST = 5
"""So many single parts at least must teach."""
MOST_DOUBT = 0.05
SINGLE = (Pairs.AGREED, Pairs.SPLIT_PULSE)
MOST_SCATTER, LEAST_SIGMA = 0.08, 0.03
"""Pulses that follow the lengths in the picture do so to this share of them; better than the
other nobody is believed."""
MOST_LESS, MOST_MORE = 0.5, 0.15
"""Pulses are shorter than the picture by no more than this share (it is blurred), or longer."""
NEAR = 0.15
"""A way that was taught differs from one by the part's sizes by no more than this share."""
LENGTH_SIGMA_PX = 0.5
"""Lengths in the picture are whole pixels."""
POSED = 1.15
"""A part looks longer than its greatest size by no more than this: blur, and its diagonal."""
LONGER = 1.3
"""A passage longer than most others by this factor may be two parts."""


def taught_signature(
    pairings: Sequence[Pairing],
    arrivals: Sequence[Arrival],
    pulses: Sequence[Pulse],
    *,
    unit: str,
) -> Signature | None:
    """Return the signature that surely single parts give, or None where too few are."""
    by_id = {a.passage.id: a for a in arrivals}
    of_pulse: Mapping[int, Pulse] = {p.id: p for p in pulses}
    looks, speeds = [], []
    for pairing in pairings:
        if pairing.kind not in SINGLE or pairing.doubt > MOST_DOUBT:
            continue
        if len(pairing.passages) != 1 or pairing.parts != 1:
            continue
        speed = by_id[pairing.passages[0]].speed
        if speed is not None and speed > 0:
            looks.append([of_pulse[k] for k in pairing.pulses])
            speeds.append(speed)
    if len(looks) < FEWEST:
        return None
    return learn_signature(looks, unit=unit, speeds=speeds)


def near_to(taught: Signature, known: Signature) -> bool:
    """Return whether every way that was taught is near to one that the part's sizes give.

    Pairs that always come together teach a pulse that no single part gives.
    """
    return all(
        any(
            len(own.darks) == len(mode.darks)
            and sum(own.darks) * (1 - NEAR) <= sum(mode.darks) <= sum(own.darks) * (1 + NEAR)
            for own in known.modes
        )
        for mode in taught.modes
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ByLength:
    """What parts do to the beam by their own lengths in the picture: parts that tumble show many.

    Attributes
    ----------
    signature : of a part of usual length.
    arrivals : with the speed at which that signature fits the length of each.
    """

    signature: Signature
    arrivals: tuple[Arrival, ...]


def by_length(
    pairings: Sequence[Pairing],
    arrivals: Sequence[Arrival],
    pulses: Sequence[Pulse],
    *,
    unit: str,
    unit_px: float,
    greatest: float | None = None,
) -> ByLength | None:
    """Return how pulses follow the lengths of passages, or None where they do not.

    A curtain is dark for the part's length, longer or shorter by the same for all: the beam's
    width, the sensor's delays, the blur of the picture. How much, surely single parts tell. It
    must be little: parts that all come in pairs would teach a long pulse, too. A passage far
    longer than most others may be two parts, and is taken for one of usual length; but not one
    that is no longer than the part is in any pose (`greatest`, where its sizes are known).
    """
    by_id = {a.passage.id: a for a in arrivals}
    of_pulse = {p.id: p for p in pulses}
    lengths, excess = [], []
    for pairing in pairings:
        if pairing.kind is not Pairs.AGREED or len(pairing.passages) != 1:
            continue
        arrival, pulse = by_id[pairing.passages[0]], of_pulse[pairing.pulses[0]]
        length = arrival.passage.length_px
        if length is None or arrival.speed is None or pulse.cut or pulse.lost_edges:
            continue
        dark = 1e-9 * (pulse.end_ns - pulse.start_ns) * arrival.speed
        lengths.append(length / unit_px)
        excess.append(dark - length / unit_px)
    if len(excess) < FEWEST:
        return None
    usual, more = float(np.median(lengths)), float(np.median(excess))
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(np.array(excess) - more)))
    sigma = float(np.hypot(scatter, LENGTH_SIGMA_PX / unit_px))
    dark = usual + more
    if scatter > MOST_SCATTER * usual or not -MOST_LESS * usual <= more <= MOST_MORE * usual:
        return None
    longest = max(LONGER * float(np.quantile(lengths, 0.75)), POSED * (greatest or 0.0))
    scaled = []
    for arrival in arrivals:
        length = arrival.passage.length_px
        own = usual if length is None or length / unit_px > longest else length / unit_px
        speed = arrival.speed
        if speed is not None:
            speed *= dark / max(own + more, 0.1 * dark)
        scaled.append(replace(arrival, speed=speed))
    mode = Mode(chance=1.0, darks=(dark,), lights=(), sigma=max(sigma, LEAST_SIGMA * dark))
    return ByLength(signature=Signature(unit=unit, modes=(mode,)), arrivals=tuple(scaled))
