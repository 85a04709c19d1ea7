"""A camera of this computer, through OpenCV."""

import sys
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, Final, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from viscount.clock import Clock
from viscount.codes import Code
from viscount.devices.cameras.album import jpeg_is_whole
from viscount.devices.cameras.arrival import ArrivalClock
from viscount.devices.cameras.live import LiveCamera, Pixels
from viscount.devices.cameras.v4l2 import switch_dynamic_rate_off
from viscount.errors import SourceError
from viscount.seams import Aim, Options
from viscount.values import Frame, Level, Notice

BACKENDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "v4l2": "CAP_V4L2",
        "msmf": "CAP_MSMF",
        "dshow": "CAP_DSHOW",
        "avfoundation": "CAP_AVFOUNDATION",
    }
)
_OF_SYSTEM = {"linux": "v4l2", "win32": "msmf", "darwin": "avfoundation"}
# Of the automatic exposure; V4L2 numbers its modes, others take shares.
_BY_HAND = {"v4l2": 1.0}
_AUTOMATIC = {"v4l2": 3.0}
_SAME_RATE = 0.05
_MEASURED_FRAMES = 60
_PLAUSIBLE_AGE_NS = 2_000_000_000


class DeviceOptions(Options):
    """Options of the camera `device`.

    `backend` is OpenCV's way to it; by default the system's own. `pixel_format`, `width_px`,
    `height_px` and `rate_hz` are asked of the camera, and what it makes of them is read back and
    told. `exposure` is in the backend's own unit (V4L2: 100 µs); without it the camera exposes by
    itself for `settle_s`, and is then held to what it came to. `silent_s` is how long it may
    take for a picture.
    """

    backend: str | None = Field(None, pattern=f"^({'|'.join(BACKENDS)})$")
    pixel_format: str = Field("MJPG", min_length=4, max_length=4)
    width_px: int = Field(640, ge=2, le=10_000)
    height_px: int = Field(480, ge=2, le=10_000)
    rate_hz: float = Field(120.0, gt=0, le=10_000)
    exposure: float | None = None
    settle_s: float = Field(1.0, ge=0, le=60)
    silent_s: float = Field(2.0, gt=0, le=60)


class Capture(Protocol):
    """What is used of `cv2.VideoCapture`."""

    def isOpened(self) -> bool: ...  # noqa: N802, D102
    def get(self, prop: int) -> float: ...  # noqa: D102
    def set(self, prop: int, value: float) -> bool: ...  # noqa: D102
    def grab(self) -> bool: ...  # noqa: D102
    def retrieve(self) -> tuple[bool, Any]: ...  # noqa: D102
    def release(self) -> None: ...  # noqa: D102


OpenCapture = Callable[[int | str, int], Capture]


class DeviceCamera(LiveCamera):
    """Reads a camera of this computer.

    Nothing that it was asked for is taken for granted: format, size and rate are read back, the
    rate is measured, and `notices` says what is otherwise.

    Parameters
    ----------
    options : see `DeviceOptions`.
    aim : the address is the camera's number, or its device file.

    Raises
    ------
    SourceError : it cannot be opened, or gives no picture.
    """

    def __init__(
        self,
        options: DeviceOptions,
        aim: Aim,
        *,
        clock: Clock | None = None,
        open_capture: OpenCapture | None = None,
        rate_kept: Callable[[str], bool] = switch_dynamic_rate_off,
    ) -> None:
        super().__init__(clock)
        self._options = options
        self._where = aim.address
        self._backend = options.backend or _OF_SYSTEM.get(sys.platform, "v4l2")
        place: int | str = int(aim.address) if aim.address.isdigit() else aim.address
        opened = open_capture or _opened
        self._capture = opened(place, getattr(cv2, BACKENDS[self._backend]))
        if not self._capture.isOpened():
            self._capture.release()
            raise SourceError(
                f"the camera cannot be opened through {self._backend}",
                where=aim.address,
                remedy="check that it is plugged in, and that no other program has it open",
            )
        self._arrivals = ArrivalClock()
        self._ask(place, rate_kept)

    def _come(self) -> Iterator[Frame]:
        """Yield the pictures as they come.

        Raises
        ------
        SourceError : the camera gives none any more.
        """
        self._settle()
        times: list[int] = []
        while not self._alarm.rung:
            taken_ns, raw = self._picture()
            pixels, whole = self._grey(raw)
            if pixels is None:
                continue
            age_ns = self._clock.now_ns() - taken_ns
            frame = self._made.frame(taken_ns, pixels, age_ns=age_ns, damaged=not whole)
            if frame is None:
                continue
            if len(times) < _MEASURED_FRAMES:
                times.append(frame.t_ns)
                if len(times) == _MEASURED_FRAMES:
                    self._say_rate(1e9 / float(np.median(np.diff(times))))
            yield frame

    def _release(self) -> None:
        self._capture.release()

    def _ask(self, place: int | str, rate_kept: Callable[[str], bool]) -> None:
        options, capture = self._options, self._capture
        capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*options.pixel_format))
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, options.width_px)
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, options.height_px)
        capture.set(cv2.CAP_PROP_FPS, options.rate_hz)
        capture.set(cv2.CAP_PROP_CONVERT_RGB, 0)
        capture.set(cv2.CAP_PROP_BUFFERSIZE, 4)
        device = f"/dev/video{place}" if isinstance(place, int) else place
        if self._backend == "v4l2" and not rate_kept(device):
            self._say(
                Level.INFO,
                Code.CAMERA_OTHERWISE,
                "whether its frame rate follows the light cannot be set; the rate is watched",
            )
        self._read_back()

    def _read_back(self) -> None:
        options, capture = self._options, self._capture
        found = int(capture.get(cv2.CAP_PROP_FOURCC))
        code = found.to_bytes(4, "little", signed=found < 0).decode("latin-1").strip("\0 ")
        size = (
            int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)),
            int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT)),
        )
        asked = options.pixel_format, (options.width_px, options.height_px)
        self._format = code if code.isascii() and len(code) == 4 else options.pixel_format
        if (self._format, size) != asked:
            text = (
                f"asked for {asked[0]} {asked[1][0]} x {asked[1][1]} px, "
                f"the camera gives {self._format} {size[0]} x {size[1]} px"
            )
            self._say(Level.INFO, Code.CAMERA_OTHERWISE, text)

    def _say_rate(self, measured_hz: float) -> None:
        asked = self._options.rate_hz
        if abs(measured_hz / asked - 1.0) > _SAME_RATE:
            told = self._capture.get(cv2.CAP_PROP_FPS)
            text = (
                f"asked for {asked:g} frames a second, the camera says {told:g}, "
                f"measured are {measured_hz:.4g}"
            )
            self._say(Level.INFO, Code.CAMERA_OTHERWISE, text)

    def _settle(self) -> None:
        """Hold the exposure: at what was asked, or at what the camera came to by itself."""
        capture, options = self._capture, self._options
        exposure = options.exposure
        if exposure is None:
            capture.set(cv2.CAP_PROP_AUTO_EXPOSURE, _AUTOMATIC.get(self._backend, 0.75))
            until_ns = self._clock.now_ns() + round(options.settle_s * 1e9)
            while self._clock.now_ns() < until_ns and not self._alarm.rung:
                self._picture()
            exposure = capture.get(cv2.CAP_PROP_EXPOSURE)
        held = capture.set(cv2.CAP_PROP_AUTO_EXPOSURE, _BY_HAND.get(self._backend, 0.25))
        held = capture.set(cv2.CAP_PROP_EXPOSURE, exposure) and held
        found = capture.get(cv2.CAP_PROP_EXPOSURE)
        capture.set(cv2.CAP_PROP_AUTO_WB, 0)
        capture.set(cv2.CAP_PROP_AUTOFOCUS, 0)
        if not held or abs(found - exposure) > 0.05 * max(abs(exposure), 1.0):
            text = f"asked for an exposure of {exposure:g} held, the camera says {found:g}"
            self._say(Level.DOUBT, Code.CAMERA_EXPOSES_ITSELF, text)

    def _picture(self) -> tuple[int, NDArray[Any]]:
        """Wait for the next picture; return its time on the monotonic clock, and what came."""
        asked_ns = self._clock.now_ns()
        if not self._capture.grab():
            raise self._lost("the camera gives no picture any more")
        now_ns = self._clock.now_ns()
        if now_ns - asked_ns > 1e9 * self._options.silent_s:
            raise self._lost(f"no picture for {(now_ns - asked_ns) * 1e-9:.1f} s")
        got, raw = self._capture.retrieve()
        if not got or raw is None:
            raise self._lost("the camera gives no picture any more")
        # V4L2 stamps its buffers, on the monotonic clock, before anything here could be late.
        stamp_ns = round(self._capture.get(cv2.CAP_PROP_POS_MSEC) * 1e6)
        stamped = self._backend == "v4l2" and 0 <= now_ns - stamp_ns < _PLAUSIBLE_AGE_NS
        return (stamp_ns if stamped else self._arrivals.at(now_ns)), raw

    def _grey(self, raw: NDArray[Any]) -> tuple[Pixels | None, bool]:
        """Return the luma of what came, and whether it is whole."""
        if self._format == "MJPG" and (raw.ndim == 1 or 1 in raw.shape):
            data = raw.reshape(-1)
            whole = jpeg_is_whole(data.tobytes())
            decoded = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)
            return (None if decoded is None else np.asarray(decoded, np.uint8)), whole
        if raw.ndim == 3 and raw.shape[2] == 2:
            return np.ascontiguousarray(raw[:, :, 0]), True
        if raw.ndim == 3 and raw.shape[2] == 3:
            return np.asarray(cv2.cvtColor(raw, cv2.COLOR_BGR2GRAY), np.uint8), True
        if raw.ndim == 2 and raw.dtype == np.uint8:
            return np.array(raw), True
        raise SourceError(
            f"pictures of {raw.dtype}, {raw.shape}",
            where=self._where,
            allowed="MJPG, YUYV, GREY, or colours as OpenCV gives them",
            remedy="ask for another format with --camera pixel_format=YUYV",
        )

    def _lost(self, found: str) -> SourceError:
        return SourceError(
            found, where=self._where, remedy="check the camera's cable and its supply"
        )

    def _say(self, level: Level, code: Code, text: str) -> None:
        self._said.append(Notice(level=level, code=code, text=text, where=self._where))


def _opened(place: int | str, backend: int) -> Capture:
    return cv2.VideoCapture(place, backend)
