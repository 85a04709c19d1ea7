"""The outlet file that belongs to a scene: what its maker knows, in the words of the contract."""

import math
from typing import Any

import yaml

from viscount.simulate.scene import Ball, Belt, Box, Column, Lamp, Nut, Scene, Screw, Slide, Washer
from viscount.simulate.solids import projected, rotation_at_rest

Keys = dict[str, Any]

ROUND_LAMP_PX = 2
"""By so much a box round a lamp is larger than the lamp."""


def outlet_text(scene: Scene) -> str:
    """Return the outlet file of `scene` as YAML."""
    return yaml.safe_dump(outlet_keys(scene), sort_keys=False)


def outlet_keys(scene: Scene) -> Keys:
    """Return the outlet file of `scene` as plain keys and values."""
    view, camera = scene.view, scene.camera
    keys: Keys = {
        "view": {
            "scale_px_per_mm": view.scale_px_per_mm,
            "falls": view.falls.value,
            "lip_px": view.lip_px,
            "line_px": view.line_px,
        },
        "motion": _motion(scene),
        "camera": {
            "line_time_us": 0.0 if camera.readout == "global" else camera.line_time_us,
            "readout": camera.readout,
        },
    }
    if camera.exposure_us:
        keys["camera"]["exposure_us"] = camera.exposure_us
    if scene.recording.slowed != 1:
        keys["camera"]["capture_fps"] = camera.fps
    if scene.gate:
        keys["gate"] = {"below_lip_mm": scene.gate.below_lip_mm}
    if scene.beam and scene.beam.lamp:
        keys["view"]["lamp_px"] = _around(scene.beam.lamp, view.width_px, view.height_px)
    if scene.beam:
        keys["beam"] = {
            "below_lip_mm": scene.beam.below_lip_mm,
            "width_mm": scene.beam.width_mm,
        }
    keys["part"] = _part(scene)
    return keys


def _around(lamp: Lamp, width: int, height: int) -> list[int]:
    """Return the box that a maker draws round a lamp, a little too large."""
    right, bottom = lamp.left_px + lamp.width_px, lamp.top_px + lamp.height_px
    return [
        max(lamp.left_px - ROUND_LAMP_PX, 0),
        max(lamp.top_px - ROUND_LAMP_PX, 0),
        min(right + ROUND_LAMP_PX, width),
        min(bottom + ROUND_LAMP_PX, height),
    ]


def _motion(scene: Scene) -> Keys:
    """Return the motion; a column's speed at the lip changes along the pour, so it is left out."""
    motion = scene.motion
    keys: Keys = {"kind": motion.kind}
    if isinstance(motion, Belt):
        return keys | {"speed_mm_s": motion.speed_mm_s}
    if isinstance(motion, Slide):
        keys["acceleration_mm_s2"] = round(motion.acceleration_mm_s2, 3)
    if not isinstance(scene.release, Column):
        keys["speed_mm_s"] = scene.lip_speed_mm_s
    return keys


def _part(scene: Scene) -> Keys:
    """Return the part file of the first part, as it leaves the lip."""
    part = scene.part(0)
    seen = projected(part, rotation_at_rest(part))
    angle = math.radians(scene.turning.angle_deg)
    # Turned by `angle` in the picture, the fall's own direction turns back in the part's.
    ends = [seen.reach(sign * math.cos(angle), -sign * math.sin(angle)) for sign in (1, -1)]
    keys: Keys = {"name": part.name, "shape": "other" if isinstance(part, Box) else part.shape}
    match part:
        case Screw():
            keys |= {
                "overall_length_mm": part.overall_length_mm,
                "diameter_mm": part.head_diameter_mm,
            }
        case Ball():
            keys["diameter_mm"] = part.diameter_mm
        case Washer():
            keys["diameter_mm"] = part.diameter_mm
        case Nut():
            keys["diameter_mm"] = part.across_flats_mm
        case Box():
            pass
    if isinstance(part, Nut | Washer):
        keys |= {"thickness_mm": part.thickness_mm, "bore_mm": part.bore_mm}
    keys["along_fall_mm"] = round(sum(ends), 3)
    if isinstance(scene.release, Column):
        keys["stack_pitch_mm"] = scene.release.pitch_mm
    return keys
