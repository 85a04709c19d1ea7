"""Parts dropped by hand, simulated in memory, and what they teach."""

from collections.abc import Sequence
from typing import Any

from scenes import Shot, shot

from viscount.beam.pulses import PulseMaker
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import Outlet, Taught
from viscount.pipeline import PRIMING_FRAMES
from viscount.seams import View
from viscount.simulate.outlet_file import outlet_keys
from viscount.simulate.scene import Scene
from viscount.teaching.by_beam import at_beam, beam_at_px
from viscount.teaching.lesson import Followed, Lesson
from viscount.teaching.making import Teaching, teaching
from viscount.teaching.refusing import require_singles
from viscount.values import Edge
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

BEAM: dict[str, Any] = {
    "below_lip_mm": 60.0,
    "width_mm": 1.0,
    "operate_us": 20.0,
    "release_us": 30.0,
    "offset_s": 0.35,
    "drift_ppm": 20.0,
}


def dropped(
    standard: str | dict[str, Any],
    *,
    count: int = 24,
    interval_ms: float = 150.0,
    seed: int = 1,
    scale: float = 4.0,
    camera: dict[str, Any] | None = None,
    **more: Any,
) -> Scene:
    """Return a scene of single parts, let go one by one past a camera."""
    part = {"standard": standard} if isinstance(standard, str) else standard
    keys: dict[str, Any] = {
        "name": "dropped",
        "seed": seed,
        "parts": [part],
        "release": {
            "kind": "escapement",
            "count": count,
            "interval_ms": interval_ms,
            "jitter_ms": 1.0,
        },
        "lip_speed_mm_s": 450.0,
        "lanes": {"spread_mm": 1.0},
        "turning": {"angle_spread_deg": 2.0, "spin_spread_deg_s": 20.0},
        "view": {
            "width_px": round(30 * scale),
            "height_px": round(80 * scale),
            "scale_px_per_mm": scale,
            "lip_px": -20 * scale,
            "line_px": 45 * scale,
        },
        "camera": {"fps": 120.0, "exposure_us": 150.0, "blur_px": 0.6, **(camera or {})},
    }
    return Scene.model_validate(keys | more)


def outlet_of(scene: Scene, **sections: Any) -> Outlet:
    """Return a scene's outlet without its part; `sections` stand over its own."""
    keys = {k: v for k, v in outlet_keys(scene).items() if k != "part"}
    return Outlet.model_validate(keys | sections)


def lesson_of(
    taken: Shot, outlet: Outlet, *, name: str = "clip", piece_length_px: float | None = None
) -> Lesson:
    """Follow the parts of a clip in memory."""
    frames = taken.frames
    geometry = geometry_of(outlet, *frames[0].pixels.shape)
    detector = DifferenceDetector(DifferenceOptions(), View(falls=outlet.falls))
    run = Followed(
        detector, geometry, motion_prior(outlet, geometry), piece_length_px=piece_length_px
    )
    run.prime(frames[:PRIMING_FRAMES])
    for frame in frames:
        run.feed(frame)
    return run.finish(name, frames[0].t_ns)


def taught_by(
    taken: Sequence[Shot],
    outlet: Outlet,
    *,
    beam: bool = False,
    count: int | None = None,
    piece_length_px: float | None = None,
) -> Teaching:
    """Teach by clips in memory, as the command does by files."""
    lessons = [lesson_of(one, outlet, piece_length_px=piece_length_px) for one in taken]
    require_singles(lessons, count)
    beams = None
    if beam:
        beams = [_at_beam(one, each, outlet) for one, each in zip(taken, lessons, strict=True)]
    return teaching(lessons, beams, outlet.view.scale_px_per_mm)


def taught(scene: Scene, *, beam: bool = False) -> Taught:
    """Return what the parts of a scene teach."""
    return taught_by([shot(scene)], outlet_of(scene), beam=beam, count=scene.count).taught


def _at_beam(taken: Shot, lesson: Lesson, outlet: Outlet) -> list:
    maker = PulseMaker()
    # The state when logging began comes first, as in a log.
    first = Edge(device_t_ns=0, blocked=False, seq=0)
    later = [Edge(device_t_ns=e.device_t_ns, blocked=e.blocked, seq=e.seq) for e in taken.edges]
    pulses = [pulse for edge in (first, *later) for pulse in maker.feed(edge)]
    pulses += maker.finish(later[-1].device_t_ns + 10**9)
    at_px = beam_at_px(outlet)
    assert at_px is not None
    return at_beam(lesson, pulses, maker.record, at_px, "beam.csv")
