"""A folder that fills while it is looked at."""

import os
import threading
from itertools import islice
from pathlib import Path

import cv2
import numpy as np
import pytest

from viscount.devices.cameras.filling import FillingFolderCamera, FillingOptions
from viscount.errors import SourceError
from viscount.seams import Aim


def put(folder: Path, number: int, *, cut: bool = False) -> None:
    picture = np.full((24, 16), 40 + number, np.uint8)
    picture[12:] = np.random.default_rng(number).integers(0, 255, (12, 16))
    data = cv2.imencode(".jpg", picture)[1].tobytes()
    path = folder / f"shot-{number}.jpg"
    path.write_bytes(data[: len(data) - 2] if cut else data)
    os.utime(path, ns=(number * 10_000_000, number * 10_000_000))


def camera(folder: Path, **options: object) -> FillingFolderCamera:
    made = FillingOptions(**({"look_ms": 1.0, "silent_s": 5.0} | options))
    return FillingFolderCamera(made, Aim(address=str(folder)))


def test_new_pictures_come_with_the_times_of_their_files(tmp_path: Path) -> None:
    put(tmp_path, 1)
    with camera(tmp_path) as one:
        for number in (2, 3, 10):
            put(tmp_path, number)
        frames = list(islice(one.frames(), 3))
    assert [frame.t_ns for frame in frames] == [0, 10_000_000, 80_000_000]
    assert [int(frame.pixels[0, 0]) for frame in frames] == [42, 43, 50]
    assert all(frame.age_ns > 0 for frame in frames)


def test_a_cut_picture_is_not_whole_and_other_files_are_let_be(tmp_path: Path) -> None:
    with camera(tmp_path) as one:
        put(tmp_path, 1)
        put(tmp_path, 2, cut=True)
        (tmp_path / "notes.txt").write_text("no picture", encoding="utf-8")
        (tmp_path / "empty.png").touch()
        put(tmp_path, 3)
        frames = []
        for frame in one.frames():
            frames.append(frame)
            if frame.t_ns == 20_000_000:
                break
    assert [frame.t_ns for frame in frames if not frame.damaged] == [0, 20_000_000]


def test_a_picture_that_is_written_slowly_is_taken_once_it_is_whole(tmp_path: Path) -> None:
    put(tmp_path, 2)
    whole = (tmp_path / "shot-2.jpg").read_bytes()
    (tmp_path / "shot-2.jpg").unlink()
    with camera(tmp_path) as one:
        (tmp_path / "shot-2.jpg").write_bytes(whole[:100])
        put(tmp_path, 1)
        frames = one.frames()
        assert next(frames).t_ns == 0
        (tmp_path / "shot-2.jpg").write_bytes(whole)
        assert not next(frames).damaged


def test_closing_ends_the_waiting(tmp_path: Path) -> None:
    one = camera(tmp_path)
    left: list[int] = []
    waiting = threading.Thread(target=lambda: left.append(len(list(one.frames()))))
    waiting.start()
    one.close()
    waiting.join(5)
    assert left == [0]


def test_a_folder_that_stays_silent_is_lost(tmp_path: Path) -> None:
    with camera(tmp_path, silent_s=0.02) as one, pytest.raises(SourceError, match="no new picture"):
        next(one.frames())


def test_there_must_be_a_folder(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="no such folder"):
        camera(tmp_path / "nowhere")
