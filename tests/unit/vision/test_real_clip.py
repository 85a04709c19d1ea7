"""The default detector on a real clip: a ball that is in view, hardly moving, from frame 0 on."""

import csv
from pathlib import Path

import av
import numpy as np
import pytest
from pictures import FRAME_NS, counts, watched

from viscount.seams import View
from viscount.values import Frame
from viscount.vision.difference import DifferenceDetector, DifferenceOptions


def luma(path: Path) -> list[Frame]:
    frames = []
    with av.open(str(path)) as container:
        for index, frame in enumerate(container.decode(video=0)):
            plane = frame.planes[0]
            rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
            pixels = rows[: frame.height, : frame.width].copy()
            frames.append(Frame(index=index, t_ns=index * FRAME_NS, pixels=pixels))
    return frames


@pytest.mark.footage
def test_a_ball_in_free_fall_is_one_blob_where_it_was_marked(footage: Path) -> None:
    """Centres marked per frame by the clip's makers, in `track_ref.csv` beside it."""
    folder = footage / "freefall-blueball"
    frames = luma(folder / "freefall.mp4")
    with (folder / "track_ref.csv").open(encoding="utf-8", newline="") as table:
        marked = {int(row["frame"]): row for row in csv.DictReader(table)}
    detector = DifferenceDetector(DifferenceOptions(), View())
    sightings = watched(detector, frames, primed=96)
    whole = 0
    for sighting in sightings[:76]:
        ball = max(sighting.blobs, key=lambda blob: blob.area_px)
        row = marked[sighting.index]
        if not ball.cut_by_edge:
            whole += 1
            assert abs(ball.x_px - float(row["x"])) < 1.0, sighting.index
            assert abs(ball.y_px - float(row["y"])) < 1.0, sighting.index
    assert whole >= 74
    assert sum(counts(sightings[5:76])) == 71
    assert not any(counts(sightings[80:]))
