"""Small pours for measuring scale and line time."""

from typing import Any

from viscount.simulate.scene import Scene
from viscount.simulate.scene.loading import scene_from


def falling(
    *,
    part: dict[str, Any] | None = None,
    count: int = 6,
    camera: dict[str, Any] | None = None,
    view: dict[str, Any] | None = None,
    **more: Any,
) -> Scene:
    """Return balls of 6 mm that fall one by one past a small view at 3 px/mm."""
    keys: dict[str, Any] = {
        "name": "falling",
        "seed": 3,
        "parts": [part or {"shape": "ball", "diameter_mm": 6.0}],
        "release": {"kind": "escapement", "count": count, "interval_ms": 50.0, "jitter_ms": 2.0},
        "lip_speed_mm_s": 450.0,
        "view": {
            "width_px": 64,
            "height_px": 300,
            "scale_px_per_mm": 3.0,
            "lip_px": -60.0,
            "line_px": 150.0,
            **(view or {}),
        },
        "camera": {"fps": 160.0, "exposure_us": 150.0, "blur_px": 0.6, **(camera or {})},
        **more,
    }
    return scene_from(keys, "falling")
