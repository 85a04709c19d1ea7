"""Small scenes for tests, drawn in memory by the pour simulator.

The house scene is a belt: a view of 120 x 160 px at 4 px/mm, parts 16 x 32 px, grey 40 on 100,
falling down at 6000 px/s past a line at y = 80, after 60 empty frames. Times are those of the
leading edge: part k's enters the view at `first_ms` + k `pitch_ms` after the empty frames.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from viscount.simulate.barrier import BeamEdge
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import (
    Belt,
    Box,
    Camera,
    Faults,
    FreeFall,
    Lanes,
    Light,
    Motion,
    Part,
    Recording,
    Resting,
    Scene,
    Surroundings,
    Times,
    View,
    Washer,
)
from viscount.simulate.solids import projected, rotation_at_rest
from viscount.simulate.truth import Truth
from viscount.values import Falls, Frame

SCALE = 4.0
ANNULUS = Washer(diameter_mm=10.0, bore_mm=4.0, thickness_mm=1.0)
"""Outer radius 20 px and inner 8 px at the house scale."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """A scene's frames with the truth about them."""

    scene: Scene
    frames: list[Frame]
    truth: Truth
    edges: tuple[BeamEdge, ...]


def box(along_px: float, across_px: float, *, glint_px: float = 0.0, scale: float = SCALE) -> Box:
    """Return a rectangular part of this size in px, with a bright band across its middle."""
    return Box(along_mm=along_px / scale, across_mm=across_px / scale, glint_mm=glint_px / scale)


def shot(scene: Scene, *, slowed: float = 1.0) -> Shot:
    """Draw `scene` in memory; `slowed` stretches the frames' times as slow motion does."""
    pour = simulate(scene)
    return Shot(scene=scene, frames=frames(pour, slowed), truth=pour.truth, edges=pour.edges)


def frames(pour: Pour, slowed: float = 1.0) -> list[Frame]:
    """Return a pour's frames as values, their pixels read-only."""
    made = []
    for index, (t_ns, pixels) in enumerate(pour.frames()):
        pixels.flags.writeable = False
        made.append(Frame(index=index, t_ns=round(t_ns * slowed), pixels=pixels))
    return made


def field_scene(
    *,
    fps: float = 120.0,
    parts: int = 10,
    pitch_ms: float = 25.0,
    first_ms: float = 0.0,
    times_ms: Sequence[float] | None = None,
    part: Part | Sequence[Part] | None = None,
    part_grey: float = 40.0,
    background_grey: float = 100.0,
    noise: float = 2.0,
    speed_px_s: float = 6000.0,
    free_fall: FreeFall | None = None,
    lanes_px: Sequence[float] = (0.0,),
    lead_in_frames: int = 60,
    frames_after: int | None = None,
    dropped: Sequence[int] = (),
    repeated: Sequence[int] = (),
    resting: Sequence[Resting] = (),
    light: Light | None = None,
    exposure_us: float = 0.0,
    readout: str = "global",
    line_time_us: float = 0.0,
    falls: Falls = Falls.DOWN,
    width_px: int = 120,
    height_px: int = 160,
    line_px: float = 80.0,
    scale: float = SCALE,
    blur_px: float = 0.0,
    slowed: float = 1.0,
    seed: int = 1,
    **more: Any,
) -> Shot:
    """Draw the house scene with whatever is named changed.

    `times_ms` stands over `parts`, `pitch_ms` and `first_ms`; times, `dropped` and `repeated`
    count from the end of the empty frames, `resting` and `light` from the first frame.
    `frames_after` is the number of frames after the empty ones; None records until the last
    part has left. With `free_fall` parts start from rest, their leading edge at the view's
    border. `more` goes to the `Scene` as it is.
    """
    shapes: tuple[Part, ...]
    if part is None:
        shapes = (box(32.0, 16.0, scale=scale),)
    else:
        shapes = tuple(part) if isinstance(part, Sequence) else (part,)
    outline = projected(shapes[0], rotation_at_rest(shapes[0]), scale)
    length_px = 2 * outline.reach(1.0, 0.0)
    times = times_ms if times_ms is not None else [first_ms + k * pitch_ms for k in range(parts)]
    span = height_px if falls.vertical else width_px
    lip_px = -length_px / 2 if falls.sign > 0 else span - 1 + length_px / 2
    motion: Motion = free_fall or Belt(speed_mm_s=speed_px_s / scale)
    duration_s = None if frames_after is None else (lead_in_frames + frames_after - 0.5) / fps
    scene = Scene(
        name="field",
        seed=seed,
        parts=shapes,
        release=Times(times_ms=tuple(times)),
        motion=motion,
        lanes=Lanes(positions_mm=tuple(px / scale for px in lanes_px)),
        surroundings=Surroundings(resting=tuple(resting)),
        view=View(
            width_px=width_px,
            height_px=height_px,
            scale_px_per_mm=scale,
            falls=falls,
            lip_px=lip_px,
            line_px=line_px,
        ),
        camera=Camera(
            fps=fps,
            exposure_us=exposure_us,
            readout=readout,
            line_time_us=line_time_us,
            noise=noise,
            background_grey=background_grey,
            part_grey=part_grey,
            blur_px=blur_px,
        ),
        light=light or Light(),
        recording=Recording(
            faults=Faults(
                dropped=tuple(lead_in_frames + k for k in dropped),
                repeated=tuple(lead_in_frames + k for k in repeated),
            )
        ),
        lead_in_s=lead_in_frames / fps,
        duration_s=duration_s,
        **more,
    )
    return shot(scene, slowed=slowed)
