"""A camera of this computer, by a stand-in for OpenCV's capture: what is asked, held and told."""

from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from viscount.codes import Code
from viscount.devices.cameras.device import DeviceCamera, DeviceOptions
from viscount.errors import SourceError
from viscount.seams import Aim
from viscount.values import Level

MS = 1_000_000


class HandClock:
    """A clock that goes on by hand."""

    def __init__(self) -> None:
        self.t_ns = 10_000 * MS

    def now_ns(self) -> int:
        return self.t_ns

    def date(self) -> object:
        raise AssertionError("no date is asked for")


class Driver:
    """Stands in for `cv2.VideoCapture`, and notes what is done to it."""

    def __init__(
        self,
        clock: HandClock,
        pictures: Sequence[np.ndarray],
        *,
        opens: bool = True,
        refuses: Sequence[int] = (),
        gives: dict[int, float] | None = None,
        every_ms: float = 8.0,
        stamp_age_ms: float | None = 3.0,
    ) -> None:
        self.clock, self.pictures = clock, list(pictures)
        self.opens, self.refuses, self.gives = opens, set(refuses), gives or {}
        self.every_ns = round(every_ms * MS)
        self.stamp_age_ms = stamp_age_ms
        self.set_to: dict[int, float] = {}
        self.history: list[tuple[int, float]] = []
        self.place: object = None
        self.backend = 0
        self.next = -1
        self.released = 0

    def __call__(self, place: object, backend: int) -> "Driver":
        self.place, self.backend = place, backend
        return self

    def isOpened(self) -> bool:
        return self.opens

    def get(self, prop: int) -> float:
        if prop == cv2.CAP_PROP_POS_MSEC:
            age = self.stamp_age_ms
            return 0.0 if age is None else self.clock.t_ns / MS - age
        return self.gives.get(prop, self.set_to.get(prop, 0.0))

    def set(self, prop: int, value: float) -> bool:
        self.history.append((prop, value))
        if prop in self.refuses:
            return False
        self.set_to[prop] = value
        return True

    def grab(self) -> bool:
        self.next += 1
        self.clock.t_ns += self.every_ns
        return self.next < len(self.pictures)

    def retrieve(self) -> tuple[bool, np.ndarray]:
        return True, self.pictures[self.next]

    def release(self) -> None:
        self.released += 1


def grey(count: int) -> list[np.ndarray]:
    return [np.full((480, 640), k % 200, np.uint8) for k in range(count)]


def opened(driver: Driver, *, kept: bool = True, **options: object) -> DeviceCamera:
    asked = {"backend": "v4l2", "pixel_format": "GREY", "rate_hz": 125.0, "settle_s": 0.0}
    return DeviceCamera(
        DeviceOptions(**(asked | options)),
        Aim(address="2"),
        clock=driver.clock,
        open_capture=driver,
        rate_kept=lambda path: kept,
    )


def codes(camera: DeviceCamera) -> list[Code]:
    return [notice.code for notice in camera.notices()]


def texts(camera: DeviceCamera) -> str:
    return "\n".join(notice.text for notice in camera.notices())


def taken(camera: DeviceCamera) -> list:
    frames: list = []
    with pytest.raises(SourceError, match="no picture any more"):
        frames.extend(camera.frames())
    return frames


def test_the_backend_is_named_and_the_number_is_one() -> None:
    driver = Driver(HandClock(), grey(3))
    opened(driver)
    assert (driver.place, driver.backend) == (2, cv2.CAP_V4L2)


def test_format_size_and_rate_are_asked_for() -> None:
    driver = Driver(HandClock(), grey(3))
    opened(driver)
    assert driver.set_to[cv2.CAP_PROP_FOURCC] == cv2.VideoWriter.fourcc(*"GREY")
    assert driver.set_to[cv2.CAP_PROP_FRAME_WIDTH] == 640
    assert driver.set_to[cv2.CAP_PROP_FPS] == 125.0


def test_what_the_camera_does_otherwise_is_told() -> None:
    gives = {
        cv2.CAP_PROP_FOURCC: float(cv2.VideoWriter.fourcc(*"YUYV")),
        cv2.CAP_PROP_FRAME_HEIGHT: 360.0,
    }
    camera = opened(Driver(HandClock(), grey(3), gives=gives))
    assert codes(camera) == [Code.CAMERA_OTHERWISE]
    assert "asked for GREY 640 x 480 px, the camera gives YUYV 640 x 360 px" in texts(camera)


def test_the_rate_is_measured_and_a_wrong_one_told() -> None:
    driver = Driver(HandClock(), grey(70), every_ms=20.0, gives={cv2.CAP_PROP_FPS: 125.0})
    camera = opened(driver)
    taken(camera)
    assert "the camera says 125, measured are 50" in texts(camera)
    same = opened(Driver(HandClock(), grey(70)))
    taken(same)
    assert codes(same) == []


def test_times_are_those_of_the_driver_and_the_age_counts_from_them() -> None:
    frames = taken(opened(Driver(HandClock(), grey(5))))
    assert [f.t_ns for f in frames] == [k * 8 * MS for k in range(5)]
    assert {f.age_ns for f in frames} == {3 * MS}


def test_without_stamps_frames_are_timed_as_they_arrive() -> None:
    frames = taken(opened(Driver(HandClock(), grey(5), stamp_age_ms=None)))
    assert [f.t_ns for f in frames] == [k * 8 * MS for k in range(5)]
    assert {f.age_ns for f in frames} == {0}


def test_exposure_is_held_at_what_the_camera_came_to() -> None:
    driver = Driver(HandClock(), grey(40), gives={cv2.CAP_PROP_EXPOSURE: 7.0})
    camera = opened(driver, settle_s=0.1)
    frames = taken(camera)
    order = [value for prop, value in driver.history if prop == cv2.CAP_PROP_AUTO_EXPOSURE]
    assert order == [3.0, 1.0]
    assert driver.set_to[cv2.CAP_PROP_EXPOSURE] == 7.0
    # 0.1 s are 13 pictures, which nobody is to count.
    assert len(frames) == 40 - 13
    assert codes(camera) == []


def test_an_exposure_that_is_given_is_set_at_once() -> None:
    driver = Driver(HandClock(), grey(5))
    assert len(taken(opened(driver, exposure=2.0, settle_s=1.0))) == 5
    assert driver.set_to[cv2.CAP_PROP_EXPOSURE] == 2.0


def test_an_exposure_that_cannot_be_held_is_a_doubt() -> None:
    camera = opened(Driver(HandClock(), grey(5), refuses=[cv2.CAP_PROP_AUTO_EXPOSURE]))
    taken(camera)
    assert [(n.code, n.level) for n in camera.notices()] == [
        (Code.CAMERA_EXPOSES_ITSELF, Level.DOUBT)
    ]


def test_a_dynamic_rate_that_cannot_be_switched_off_is_told() -> None:
    camera = opened(Driver(HandClock(), grey(3)), kept=False)
    assert codes(camera) == [Code.CAMERA_OTHERWISE]


def test_a_camera_that_cannot_be_opened_is_let_go_of() -> None:
    driver = Driver(HandClock(), [], opens=False)
    with pytest.raises(SourceError, match="cannot be opened through v4l2"):
        opened(driver)
    assert driver.released == 1


def test_a_picture_that_takes_too_long_is_a_lost_camera() -> None:
    driver = Driver(HandClock(), grey(5), every_ms=2500.0)
    with pytest.raises(SourceError, match=r"no picture for 2\.5 s"):
        list(opened(driver).frames())
    assert driver.released == 1


def test_half_a_jpeg_picture_is_never_taken_for_a_whole_one() -> None:
    """Some versions of OpenCV decode it, grey below; others give nothing."""
    noise = np.random.default_rng(1).integers(0, 255, (480, 640), np.uint8)
    data = cv2.imencode(".jpg", noise)[1].reshape(1, -1)
    half = np.concatenate([data[:, : data.size // 2], np.zeros((1, 500), np.uint8)], axis=1)
    padded = np.concatenate([data, np.zeros((1, 500), np.uint8)], axis=1)
    frames = taken(opened(Driver(HandClock(), [data, half, padded]), pixel_format="MJPG"))
    assert [f.t_ns // MS for f in frames if not f.damaged] == [0, 16]
    assert frames[-1].pixels.shape == (480, 640)


def test_luma_is_taken_of_packed_and_of_coloured_pictures() -> None:
    packed = np.dstack([np.full((480, 640), 50, np.uint8), np.full((480, 640), 128, np.uint8)])
    colour = np.full((480, 640, 3), 70, np.uint8)
    frames = taken(opened(Driver(HandClock(), [packed, colour])))
    assert [int(f.pixels[0, 0]) for f in frames] == [50, 70]


def test_pictures_that_nobody_knows_are_refused() -> None:
    with pytest.raises(SourceError, match="pictures of uint16"):
        list(opened(Driver(HandClock(), [np.zeros((480, 640), np.uint16)])).frames())
