"""Clips of pours as files: codecs, and packets that are damaged."""

from pathlib import Path

import av
import numpy as np
import pytest

from viscount.clips.reader import ClipReader
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import Beam, Board, Faults, Recording, Scene, load_scene

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


def pictures(clip: Path) -> tuple[dict[int, np.ndarray], int]:
    """The pictures by their times in us, and how many the reader reports as damaged."""
    with ClipReader(clip) as reader:
        found = {picture.t_ns // 1000: picture.pixels.copy() for picture in reader}
        return found, reader.report().damaged


@pytest.mark.parametrize(
    ("codec", "last", "told"), [("h264", 59, True), ("mjpeg", 41, True), ("ffv1", 41, False)]
)
def test_damage_reaches_the_stated_frame_and_what_builds_on_it(
    tmp_path: Path, codec: str, last: int, told: bool
) -> None:
    """There is a key frame each quarter of a second: of 120 frames a second the 30th, the 60th."""
    whole, _ = pictures(write_pour(scene(codec=codec), tmp_path).clip)
    made = scene(codec=codec, faults=Faults(damaged=(41,)))
    hurt, damaged = pictures(write_pour(made, tmp_path).clip)
    wrong = [
        number
        for number, t_us in enumerate(sorted(whole))
        if t_us not in hurt or (hurt[t_us] != whole[t_us]).any()
    ]
    assert wrong[0] == 41
    assert wrong[-1] <= last
    assert not told or damaged > 0
    assert (len(hurt) < len(whole)) is (codec == "mjpeg")


@pytest.mark.parametrize("codec", ["h264", "ffv1", "mjpeg"])
def test_the_same_seed_gives_the_same_files(tmp_path: Path, codec: str) -> None:
    made = scene(codec=codec, late_ms=2.0, faults=Faults(damaged=(9,), torn=(5,), dropped=(7,)))
    camera = made.camera.model_copy(update={"shot_noise": 0.1})
    beam = Beam(below_lip_mm=60.0, width_mm=1.0, board=Board(jitter_us=20.0, bounces=0.2))
    made = made.model_copy(update={"camera": camera, "beam": beam, "duration_s": 0.3})
    folders = [tmp_path / name for name in ("one", "two")]
    for folder in folders:
        write_pour(made, folder)
    names = sorted(path.name for path in folders[0].iterdir())
    assert len(names) == 5
    for name in names:
        assert (folders[0] / name).read_bytes() == (folders[1] / name).read_bytes(), name


@pytest.mark.parametrize("late_ms", [6.0, 40.0])
def test_times_that_arrive_out_of_order_can_be_written(tmp_path: Path, late_ms: float) -> None:
    made = scene(late_ms=late_ms)
    found, _ = pictures(write_pour(made, tmp_path).clip)
    assert len(found) == len(simulate(made).times)
