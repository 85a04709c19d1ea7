"""The conformance kit for cameras: what every source of frames must do, live or recorded."""

from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from zlib import crc32

from viscount.errors import ViscountError
from viscount.hooks.refusal import RefusedError, check_entry_form
from viscount.seams import Aim, Camera, Entry, Options
from viscount.testing.answers import require
from viscount.values import Frame, Notice

_KEPT = 8
"""So many frames later a picture must still be what it was: queues hold them for a while."""


def check_camera(make: Callable[[], Camera], *, frames: int = 30) -> None:
    """Assert that a camera does what the rest of the program relies on.

    It must have `frames` frames to give, or end earlier; three at least.

    Parameters
    ----------
    make : opens the camera anew; may be called several times, never while another is open.
    frames : so many are looked at.

    Raises
    ------
    AssertionError
        Naming the demand that is not met, and the frame where that showed.
    """
    require(frames >= 3, "three frames at least must be looked at")
    for check in (_frames_in_order, _closed_early, _closed_unused):
        try:
            check(make, frames)
        except AssertionError as error:
            title = (check.__doc__ or check.__name__).splitlines()[0].rstrip(".")
            raise AssertionError(f"{title}: {error}") from error


def check_camera_entry(
    entry: Entry[Camera], aim: Aim, options: Options | None = None, *, frames: int = 30
) -> None:
    """Assert that an entry can be registered, and that its camera holds.

    Parameters
    ----------
    entry : as the plugin's hook returns it.
    aim : a camera that is there.
    options : of the entry's own model; by default its defaults.
    frames : as for `check_camera`.
    """
    try:
        check_entry_form(entry)
    except RefusedError as refused:
        raise AssertionError(str(refused)) from refused
    chosen = entry.options() if options is None else options
    check_camera(lambda: entry.make(chosen, aim), frames=frames)


def _opened(make: Callable[[], Camera]) -> Camera:
    camera = make()
    require(
        hasattr(camera, "__enter__") and hasattr(camera, "__exit__"), "it is no context manager"
    )
    require(isinstance(camera, Camera), "it lacks frames(), notices() or close()")
    for name in ("recorded", "may_repeat"):
        told = getattr(camera, name, False)
        require(isinstance(told, bool), f"`{name}` is {told!r}, neither True nor False")
    return camera


def _frames_in_order(make: Callable[[], Camera], frames: int) -> None:
    """Frames come in order, from time zero, and stay as they were."""
    with _opened(make) as camera:  # type: ignore[attr-defined]
        _check_notices(camera)
        sums: list[tuple[Frame, int]] = []
        before: Frame | None = None
        for frame in islice(camera.frames(), frames):
            _check_frame(frame, before)
            before = frame
            sums.append((frame, crc32(frame.pixels.tobytes())))
            if len(sums) > _KEPT:
                _check_kept(sums.pop(0), frame)
        require(before is not None and before.index >= 2, "it gave less than three frames")
        for one in sums:
            _check_kept(one, sums[-1][0])
        _check_notices(camera)
    camera.close()


def _closed_early(make: Callable[[], Camera], frames: int) -> None:
    """A camera that is closed in the midst of its frames gives no more than a few."""
    camera = _opened(make)
    coming: Iterator[Frame] = iter(())
    with camera, closing(camera):  # type: ignore[attr-defined]
        coming = camera.frames()
        next(coming)
        next(coming)
    try:
        left = sum(1 for _ in islice(coming, frames))
    except (ViscountError, AssertionError):
        left = 0
    require(left < frames, f"{left} frames came after close()")


def _closed_unused(make: Callable[[], Camera], frames: int) -> None:
    """A camera that is closed unused can be opened again."""
    for _ in range(2):
        camera = _opened(make)
        with camera:  # type: ignore[attr-defined]
            pass
        camera.close()
        camera.close()


def _check_frame(frame: Frame, before: Frame | None) -> None:
    where = f"frame {frame.index}"
    pixels = frame.pixels
    require(
        pixels.dtype.name == "uint8" and pixels.ndim == 2 and pixels.size > 0,
        f"{where} is {pixels.dtype} with {pixels.ndim} axes, not uint8 (H, W)",
    )
    require(not pixels.flags.writeable, f"{where} can be written to")
    require(frame.age_ns >= 0, f"{where} is {frame.age_ns} ns old")
    if before is None:
        require(frame.index == 0, f"the first frame has index {frame.index}")
        require(frame.t_ns == 0, f"the first frame has time {frame.t_ns} ns, not 0")
        return
    require(frame.index == before.index + 1, f"frame {before.index} is followed by {frame.index}")
    require(frame.t_ns > before.t_ns, f"{where} is not later than the frame before it")
    require(
        pixels.shape == before.pixels.shape,
        f"{where} is {pixels.shape}, the one before {before.pixels.shape}",
    )


def _check_kept(noted: tuple[Frame, int], now: Frame) -> None:
    frame, checksum = noted
    require(
        crc32(frame.pixels.tobytes()) == checksum,
        f"the pixels of frame {frame.index} have changed by frame {now.index}: its memory was "
        "used again",
    )


def _check_notices(camera: Camera) -> None:
    said = camera.notices()
    require(isinstance(said, tuple), f"notices() returned a {type(said).__name__}, not a tuple")
    require(all(isinstance(one, Notice) for one in said), "notices() holds other things")
