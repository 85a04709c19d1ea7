"""When the line that a part is on is exposed."""

import numpy as np
import pytest

from viscount.simulate.drawing.moments import own_moments
from viscount.simulate.geometry import upright
from viscount.simulate.physics import paths
from viscount.simulate.scene.loading import scene_from


@pytest.mark.parametrize("readout", ["down", "up", "left"])
def test_a_part_is_where_its_line_is_exposed(readout: str) -> None:
    """Of a picture whose lines take 29 ms, in free fall."""
    scene = scene_from(
        {
            "name": "rolls",
            "parts": [{"shape": "ball", "diameter_mm": 4.0}],
            "release": {"kind": "escapement", "count": 12, "interval_ms": 9.0},
            "lanes": {"drift_spread_mm_s": 60.0},
            "view": {"width_px": 160, "height_px": 480, "scale_px_per_mm": 4.0, "lip_px": -40.0},
            "camera": {"fps": 30.0, "readout": readout, "line_time_us": 60.0},
        },
        "rolls.yaml",
    )
    made, up = paths(scene, 200.0), upright(scene)
    parts, t_s = np.arange(made.count), float(made.lip_s[-1]) + 0.05
    found = own_moments(made, up, parts, t_s)
    place = up.place(made.along(parts, found)[0], made.across(parts, found), 0.0, found)
    assert found == pytest.approx(t_s + up.delay(*place), abs=1e-12)
