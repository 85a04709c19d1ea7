"""Clips of pours as files: codecs, and packets that are damaged."""

from pathlib import Path

import av
import numpy as np
import pytest

from viscount.clips.reader import ClipReader
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import Faults, Recording, Scene, load_scene

PLAIN = load_scene(Path(__file__).parents[3] / "fixtures" / "scenes" / "plain.yaml")


def scene(**recording: object) -> Scene:
    update = {"recording": Recording.model_validate(recording), "duration_s": 0.8}
    return PLAIN.model_copy(update=update)


def decoded(path: Path) -> list[np.ndarray]:
    with av.open(str(path)) as container:
        return [f.to_ndarray(format="gray") for f in container.decode(video=0)]


def test_ffv1_keeps_every_pixel(tmp_path: Path) -> None:
    made = scene(codec="ffv1")
    clip = write_pour(made, tmp_path).clip
    drawn = [pixels for _, pixels in simulate(made).frames()]
    for got, expected in zip(decoded(clip), drawn, strict=True):
        np.testing.assert_array_equal(got, expected)


@pytest.mark.parametrize(("codec", "fine", "coarse"), [("h264", 10, 40), ("mjpeg", 2, 25)])
def test_lossy_codecs_lose_by_their_quality(
    tmp_path: Path, codec: str, fine: int, coarse: int
) -> None:
    drawn = [pixels.astype(int) for _, pixels in simulate(scene()).frames()]
    errors = []
    for quality in (fine, coarse):
        (tmp_path / str(quality)).mkdir()
        clip = write_pour(scene(codec=codec, quality=quality), tmp_path / str(quality)).clip
        found = decoded(clip)
        assert len(found) == len(drawn)
        errors.append(np.mean([np.abs(f - d).mean() for f, d in zip(found, drawn, strict=True)]))
    assert 0 < errors[0] < 2.0
    assert errors[1] > 1.1 * errors[0]


def test_damaged_packets_are_met_by_the_reader(tmp_path: Path) -> None:
    made = scene(faults=Faults(damaged=(40, 60)))
    clip = write_pour(made, tmp_path).clip
    with ClipReader(clip) as reader:
        frames = list(reader)
        report = reader.report()
    assert len(frames) <= 97
    assert report.damaged > 0
