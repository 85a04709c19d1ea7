"""Works out the truth of a scene from its paths and its drawing alone."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from viscount.simulate.barrier import BoardTruth
from viscount.simulate.drawing import Studio
from viscount.simulate.geometry import upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Box, Scene
from viscount.simulate.timeline import FrameTime
from viscount.simulate.truth.bound import crossing_sigma_s, place_variance
from viscount.simulate.truth.crossings import Crossing, crossings
from viscount.simulate.truth.places import Shapes, picture_speed
from viscount.simulate.truth.separable import (
    by_part,
    clear,
    part_separable,
    pour_separable,
    whole,
)
from viscount.simulate.truth.sightings import Sightings
from viscount.simulate.truth.values import (
    BagTruth,
    FrameTruth,
    PartTruth,
    Recrossing,
    Seen,
    Spread,
    Truth,
)

SHOWS = 0.05
"""A part of which this share is to be seen shows in a frame."""


def truth(
    scene: Scene,
    paths: Paths,
    times: tuple[FrameTime, ...],
    studio: Studio,
    board: BoardTruth | None = None,
) -> Truth:
    """Return what truly happens in a scene, as its frames show it."""
    up = upright(scene)
    shapes = Shapes(scene, paths, up)
    looking = Sightings(scene, paths, up, shapes, studio)
    frames = tuple(looking.frame(time) for time in times)
    end_s = times[-1].t_ns * 1e-9 if times else 0.0
    passed = crossings(paths, up, shapes, scene.view.line_px, end_s)
    sightings = by_part(frames, _length_px(shapes, passed))
    visible = Counter(s.part for frame in frames for s in frame.seen if s.visible >= SHOWS)
    maker = _Parts(scene, paths, shapes, up.line_s_per_row)
    timed = list(zip(times, frames, strict=True))
    parts = []
    for k in range(paths.count):
        first = next((c for c in passed[k] if c.downwards), None)
        bound_ns = _bound(scene, paths, studio, timed, k, first)
        parts.append(maker.part(k, passed[k], first, sightings.get(k, []), visible[k], bound_ns))
    crossing = [(p.part, p.separable) for p in parts if p.line_t_ns is not None]
    return Truth(
        scene=scene.name,
        seed=scene.seed,
        falls=scene.view.falls.value,
        line_px=scene.view.line_px,
        scale_px_per_mm=up.scale,
        displacement_per_spacing=_displacement(scene, parts),
        separable=pour_separable(
            crossing,
            ends_seen=_ends_seen(frames),
            in_pieces=any(isinstance(p, Box) and p.glint_mm > 0 for p in scene.parts),
        ),
        parts=tuple(parts),
        bags=_bags(paths),
        board=board,
        frames=frames,
    )


class _Parts:
    """Makes the truth of single parts."""

    def __init__(self, scene: Scene, paths: Paths, shapes: Shapes, line_s_per_row: float) -> None:
        self._scene, self._paths, self._shapes = scene, paths, shapes
        self._line_s_per_row = line_s_per_row
        beam = scene.beam
        self._beam_s = paths.arrival(beam.below_lip_mm) if beam else np.full(paths.count, np.nan)

    def part(
        self,
        k: int,
        passed: Sequence[Crossing],
        first: Crossing | None,
        sightings: Sequence[Seen],
        visible: int,
        bound_ns: float | None,
    ) -> PartTruth:
        """Return the truth of part `k`; `first` is its first crossing with the fall."""
        others = [c for c in passed if c is not first]
        shape = self._shapes.at(k, first.t_s) if first else None
        fate = self._paths.fates[k]
        ratio = self._line_s_per_row * first.speed_px_s if first else 0.0
        return PartTruth(
            part=k,
            pour=k // max(self._scene.release.count, 1),
            release_t_ns=round(float(self._paths.lip_s[k]) * 1e9),
            line_t_ns=round(first.t_s * 1e9) if first else None,
            recrossings=tuple(
                Recrossing(t_ns=round(c.t_s * 1e9), direction="with" if c.downwards else "against")
                for c in others
            ),
            beam_t_ns=_ns(float(self._beam_s[k])),
            blade_t_ns=_ns(fate.blade_t_s),
            speed_px_s=first.speed_px_s if first else None,
            speed_mm_s=first.speed_mm_s if first else None,
            across_px=first.column if first else None,
            length_px=shape.back + shape.front if shape else None,
            fate=fate.fate,
            bag=fate.bag,
            frames_visible=visible,
            hidden=first is not None and not visible,
            separable=part_separable(sightings, ratio),
            bound_sigma_ns=bound_ns,
        )


def _bound(
    scene: Scene,
    paths: Paths,
    studio: Studio,
    timed: Sequence[tuple[FrameTime, FrameTruth]],
    k: int,
    first: Crossing | None,
) -> float | None:
    """Return the bound of a part's crossing from the frames that show it whole and alone, ns."""
    if not scene.bound or first is None:
        return None
    up = upright(scene)
    known = []
    for time, frame in timed:
        if frame.new and any(s.part == k and whole(s) and clear(s) for s in frame.seen):
            middle_s = time.shown_t_ns * 1e-9 + up.marked_s
            speed = float(picture_speed(paths, up, k, np.array(middle_s)))
            known.append((middle_s, place_variance(studio, scene.camera, time, k, speed)))
    sigma = crossing_sigma_s(known, first.t_s, first.speed_px_s)
    return None if sigma is None else sigma * 1e9


def _displacement(scene: Scene, parts: Sequence[PartTruth]) -> Spread | None:
    """Return displacement between frames over spacing: frame interval over the parts' own."""
    at_line = np.sort([p.line_t_ns for p in parts if p.line_t_ns is not None])
    intervals = np.maximum(np.diff(at_line), 1) * 1e-9
    if not len(intervals):
        return None
    p05, p50, p95 = np.percentile(1 / scene.camera.fps / intervals, [5, 50, 95]).tolist()
    return Spread(p05=p05, p50=p50, p95=p95)


def _length_px(shapes: Shapes, passed: Sequence[Sequence[Crossing]]) -> float:
    """Return the median length of parts as they cross the line; 0 where none does."""
    firsts = [(k, found[0].t_s) for k, found in enumerate(passed) if found]
    seen = [shapes.at(k, t_s) for k, t_s in firsts]
    return float(np.median([shape.back + shape.front for shape in seen])) if seen else 0.0


def _ends_seen(frames: Sequence[FrameTruth]) -> bool:
    """Whether the clip begins before the first part is in view, or ends after the last."""
    return not frames or not frames[0].seen or not frames[-1].seen


def _bags(paths: Paths) -> tuple[BagTruth, ...]:
    return tuple(
        BagTruth(
            bag=filled.bag,
            content=len(filled.content),
            held_before=len(filled.held_before),
            held_after=len(filled.held_after),
            pinched_before=len(filled.pinched_before),
            pinched_after=len(filled.pinched_after),
        )
        for filled in paths.bags
    )


def _ns(t_s: float | None) -> int | None:
    return None if t_s is None or np.isnan(t_s) else round(t_s * 1e9)
