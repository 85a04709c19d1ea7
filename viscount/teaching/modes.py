"""The ways in which single parts darken the beam; every one of them is told, rare ones too."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.beam.learning import NEAR_SIGMAS, learn_signature
from viscount.teaching.singles import AtBeam
from viscount.values import Mode

Floats = NDArray[np.float64]

ODD_SCATTER = 0.1
"""Lengths of the few parts that look like no others scatter by this share at least."""


def modes_of(parts: Sequence[AtBeam], unit: str, scale: float) -> tuple[Mode, ...]:
    """Return the modes of parts that are known to be single, likeliest first; none without pulses.

    Parts that look alike are gathered as pulses of any pour would be. There, what is left over
    was no single part; here it was, so that it is a mode too, a wide one.

    Parameters
    ----------
    unit : "mm" or "px", of the lengths. scale : px in it.
    """
    speeds = [part.speed / scale for part in parts]
    learned = learn_signature([part.pulses for part in parts], unit=unit, speeds=speeds)
    gathered = () if learned is None else learned.modes
    looks = [_stretches(p, s) for p, s in zip(parts, speeds, strict=True) if p.pulses]
    members: list[int] = [0] * len(gathered)
    odd: dict[int, list[Floats]] = {}
    for look in looks:
        own = [k for k, mode in enumerate(gathered) if _fits(look, mode)]
        if own:
            members[min(own, key=lambda k: _off(look, gathered[k]))] += 1
        else:
            odd.setdefault(look.size, []).append(look)
    modes = [
        Mode(chance=n / len(parts), darks=mode.darks, lights=mode.lights, sigma=mode.sigma)
        for n, mode in zip(members, gathered, strict=True)
        if n
    ]
    modes += [_wide(np.array(few), len(parts)) for few in odd.values()]
    return tuple(sorted(modes, key=lambda mode: -mode.chance))


def _stretches(part: AtBeam, speed: float) -> Floats:
    """Return dark, light, dark ... of a part's pulses as lengths."""
    edges = [t for pulse in part.pulses for t in (pulse.start_ns, pulse.end_ns)]
    return np.diff(np.array(edges, dtype=np.float64)) * 1e-9 * speed


def _lengths(mode: Mode) -> Floats:
    own = np.empty(2 * len(mode.darks) - 1)
    own[::2], own[1::2] = mode.darks, mode.lights
    return own


def _fits(look: Floats, mode: Mode) -> bool:
    return look.size == 2 * len(mode.darks) - 1 and _off(look, mode) <= NEAR_SIGMAS


def _off(look: Floats, mode: Mode) -> float:
    return float(np.max(np.abs(look - _lengths(mode)))) / mode.sigma


def _wide(looks: Floats, of: int) -> Mode:
    middle = np.median(looks, axis=0)
    sigma = max(float(np.std(looks, axis=0).max()), ODD_SCATTER * float(middle.max()))
    lengths = [float(x) for x in middle]
    return Mode(
        chance=len(looks) / of, darks=tuple(lengths[::2]), lights=tuple(lengths[1::2]), sigma=sigma
    )
