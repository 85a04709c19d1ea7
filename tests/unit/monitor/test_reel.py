"""Any frame of a recording, in any order."""

import random
from pathlib import Path

import numpy as np
import pytest

from viscount.devices.cameras.source import open_source
from viscount.monitor.model.facts import Facts
from viscount.monitor.recording import played
from viscount.monitor.reel import FileReel
from viscount.offline import count

FOLDER = Path(__file__).parents[3] / "fixtures" / "washers"


@pytest.fixture(scope="module")
def frames() -> list[np.ndarray]:
    with open_source(FOLDER / "clip.mp4") as camera:
        return [frame.pixels for frame in camera.frames()]


@pytest.mark.parametrize("limit_bytes", [1, 200_000, 1 << 30])
def test_each_frame_is_the_clips_own(frames: list[np.ndarray], limit_bytes: int) -> None:
    reel = FileReel(FOLDER / "clip.mp4", limit_bytes=limit_bytes)
    asked = [0, 1, 2, 1, 0, 30, 29, 31, *random.Random(1).sample(range(len(frames)), 8)]
    for index in asked:
        found = reel.pixels(index)
        assert found is not None
        assert (found == frames[index]).all()
    assert reel.pixels(len(frames)) is None
    assert sum(one.nbytes for one in reel._kept.values()) <= max(limit_bytes, frames[0].nbytes)
    reel.close()


def test_a_recording_is_counted_as_always_and_ready_to_be_played(
    frames: list[np.ndarray],
) -> None:
    outlet = FOLDER / "outlet.yaml"

    def counted(watcher):  # type: ignore[no-untyped-def]
        return count(FOLDER / "clip.mp4", outlet=outlet, watcher=watcher)

    model = played(FOLDER / "clip.mp4", Facts(title="washers"), counted)
    plain = count(FOLDER / "clip.mp4", outlet=outlet)
    assert model.tally == plain
    assert model.frames == len(frames)
    model.step(model.frames)
    assert model.numbers.in_bag == plain.count
    assert model.picture is not None
    assert (model.picture.pixels == frames[-1]).all()
