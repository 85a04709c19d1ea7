"""The background's noise, and whether camera and background stand still."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from viscount.checking.figures import SteadinessFigures
from viscount.checking.finding import Finding, doubt
from viscount.checking.scenery import Scenery
from viscount.codes import Code

SHAKE_PX = 0.2
"""Shake, exceeded in one frame of twenty, from which on it costs accuracy."""

BLOW_PX, BLOW_FRAMES = 0.5, 3
"""So many frames that lie off by so much are a blow."""

CREEP_PX_S = 3.0
"""Speed of the background from which on it spoils a count."""

_LEAST_SHARE, _LEAST_FRAMES = 0.5, 24
"""Frames in which the shift must be known, to tell small ones."""

_LARGE_PX, _LARGE_SHARE = 1.0, 0.25
"""Large shifts often go too far to be measured: fewer frames will do."""

_LEAST_PAIRS = 4
_SIGMAS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneEvidence:
    """How the scene lies: shake (95th percentile) and greatest shift in px, creep in px/s.

    None where the background shows too little to tell.
    """

    noise: float | None
    shake_px: float | None
    greatest_px: float | None
    blown: int
    creep_px_s: float | None


def scene_evidence(scenery: Scenery, *, banded: bool) -> SceneEvidence:
    """Return what the background did; where light moves over it in bands its place is unknown."""
    sigma = scenery.grain["sigma"]
    noise = float(np.median(sigma)) if sigma.size else None
    creep = None if banded else _creep(scenery)
    shaken = None if banded or creep else _shake(scenery)
    p95, greatest, blown = shaken or (None, None, 0)
    return SceneEvidence(
        noise=noise, shake_px=p95, greatest_px=greatest, blown=blown, creep_px_s=creep
    )


def _shake(scenery: Scenery) -> tuple[float, float, int] | None:
    known = len(scenery.shake)
    if known < max(_LARGE_SHARE * scenery.looked, _LEAST_FRAMES):
        return None
    down, right = scenery.shake["down"], scenery.shake["right"]
    off = np.hypot(down - np.median(down), right - np.median(right))
    floor = _SIGMAS * float(np.median(scenery.shake["sigma"]))
    shake = float(np.percentile(off, 95))
    if known < _LEAST_SHARE * scenery.looked and shake < max(_LARGE_PX, floor):
        return None
    blown = int(np.count_nonzero(off >= max(BLOW_PX, floor)))
    return (shake if shake >= floor else 0.0), float(off.max()), blown


def _creep(scenery: Scenery) -> float | None:
    """Return the background's speed, where pairs of frames agree that it has one."""
    if len(scenery.creep) < _LEAST_PAIRS:
        return None
    speeds = np.column_stack([scenery.creep["down"], scenery.creep["right"]])
    middle = np.median(speeds, axis=0)
    speed = float(np.hypot(*middle))
    scatter = float(np.median(np.hypot(*(speeds - middle).T)))
    return speed if speed >= CREEP_PX_S and scatter < speed / _SIGMAS else None


def steadiness_figures(met: SceneEvidence) -> SteadinessFigures:
    """Return the figures."""
    known = met.shake_px is not None
    return SteadinessFigures(
        shake_px=met.shake_px,
        shake_frames=met.blown if known else None,
        creep_px_s=met.creep_px_s if met.creep_px_s is not None else (0.0 if known else None),
    )


def scene_findings(met: SceneEvidence) -> Iterator[Finding]:
    """Yield what there is to say of the place of camera and background."""
    if met.creep_px_s is not None:
        found = f"the background moves at {met.creep_px_s:.1f} px/s"
        yield doubt(Code.BACKGROUND_MOVES, found, "a background that stands still")
    if met.shake_px is None or met.greatest_px is None:
        return
    if met.shake_px >= SHAKE_PX:
        found = (
            f"the picture lies off by {met.shake_px:.2f} px in one frame of twenty, by "
            f"{met.greatest_px:.2f} px at most"
        )
        yield doubt(Code.CAMERA_SHAKES, found, f"less than {SHAKE_PX:g} px")
    elif met.blown >= BLOW_FRAMES:
        found = (
            f"the picture is thrown off by up to {met.greatest_px:.2f} px, in {met.blown} frames"
        )
        yield doubt(Code.CAMERA_SHAKES, found, f"less than {BLOW_PX:g} px at any time")
