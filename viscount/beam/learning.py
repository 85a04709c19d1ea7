"""What one part looks like to the beam, learned from parts that passed alone."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.beam.lengths import factors
from viscount.values import Mode, Pulse, Signature

Floats = NDArray[np.float64]

NEAR_SIGMAS = 4.0
"""Lengths within so many standard deviations of the median look alike."""
LEAST_SCATTER = 0.03
"""The share of its lengths by which a mode scatters at least."""
FIRST_LOOK = 0.10
"""The share by which lengths may differ at first, to look alike."""
RARE, RARE_SHARE = 2, 0.04
"""Fewer than so many parts, or this share, that look alike are no mode: they were not alone."""
MAD_TO_SIGMA = 1.4826
"""Normal scatter over median absolute deviation (Rousseeuw and Croux, JASA 88 (1993) 1273)."""


def learn_signature(
    parts: Sequence[Sequence[Pulse]],
    *,
    unit: str = "ms",
    speeds: Sequence[float] | None = None,
) -> Signature | None:
    """Return the mixture of ways in which single parts darken the beam, or None without one.

    Parameters
    ----------
    parts : the pulses of each part that is believed to have passed alone; none where the beam
        did not see it. Parts with cut pulses are left out.
    unit : "ms", or "mm" or "px" with `speeds`.
    speeds : of each part at the beam, in units per second.

    Notes
    -----
    Parts with equally many pulses are gathered round the place where their lengths lie closest;
    those within a few deviations (by the median absolute one) are a mode, and what is left is
    gathered again. Lone ones are dropped: they were no single parts.
    """
    scale = factors(len(parts), unit, speeds)
    whole = [
        (part, factor)
        for part, factor in zip(parts, scale, strict=True)
        if not any(p.cut or p.lost_edges for p in part)
    ]
    unseen = sum(not part for part, _ in whole)
    by_count: dict[int, list[Floats]] = {}
    for part, factor in whole:
        if part:
            by_count.setdefault(len(part), []).append(_stretches(part) * factor)
    least = max(RARE, RARE_SHARE * len(whole))
    found = [mode for looks in by_count.values() for mode in _gathered(np.array(looks), least)]
    if not found:
        return None
    total = sum(len(members) for members in found) + unseen
    modes = [_mode(members, len(members) / total) for members in found]
    return Signature(
        unit=unit,
        modes=tuple(sorted(modes, key=lambda mode: -mode.chance)),
        unseen=unseen / total,
    )


def closest(looks: Floats, within: float = FIRST_LOOK) -> NDArray[np.bool_]:
    """Return which looks, (n, stretches), are alike to the one that most are alike to.

    Alike are those whose stretches all differ by less than the share `within`; of several with
    as many, the shortest counts.
    """
    logs = np.log(np.maximum(looks, 1e-12))
    if looks.shape[1] == 1:
        own = np.sort(logs[:, 0])
        near_each = np.searchsorted(own, own + within) - np.searchsorted(own, own - within)
        return np.asarray(np.abs(logs[:, 0] - own[np.argmax(near_each)]) < within)
    order = np.argsort(looks.sum(axis=1), kind="stable")
    best = np.zeros(len(looks), dtype=np.bool_)
    for i in order:
        near = np.all(np.abs(logs - logs[i]) < within, axis=1)
        if near.sum() > best.sum():
            best = near
    return best


def scatter(looks: Floats) -> float:
    """Return the standard deviation of each length from part to part, by medians."""
    deviation = np.median(np.abs(looks - np.median(looks, axis=0)), axis=0)
    floor = LEAST_SCATTER * np.median(looks, axis=0).max()
    return float(max(MAD_TO_SIGMA * deviation.max(), floor))


def _stretches(part: Sequence[Pulse]) -> Floats:
    """Return dark, light, dark ... of a part's pulses, in ns."""
    edges = [t for p in part for t in (p.start_ns, p.end_ns)]
    return np.diff(np.array(edges, dtype=np.float64))


def _gathered(looks: Floats, least: float) -> list[Floats]:
    """Split looks, (n, stretches), into those that are alike."""
    modes = []
    while len(looks) >= least:
        core = looks[closest(looks)]
        near = np.all(
            np.abs(looks - np.median(core, axis=0)) <= NEAR_SIGMAS * scatter(core), axis=1
        )
        if near.sum() < least:
            break
        modes.append(looks[near])
        looks = looks[~near]
    return modes


def _mode(looks: Floats, chance: float) -> Mode:
    lengths = [float(x) for x in np.median(looks, axis=0)]
    return Mode(
        chance=chance,
        darks=tuple(lengths[::2]),
        lights=tuple(lengths[1::2]),
        sigma=scatter(looks),
    )
