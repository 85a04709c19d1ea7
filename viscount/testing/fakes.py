"""Fakes as strict as the real thing: they hold their caller to the contract too."""

from collections.abc import Iterator, Sequence
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from viscount.errors import SourceError
from viscount.seams import View
from viscount.testing.answers import require
from viscount.values import Blob, Frame, Notice, Seeing, Sighting

_SIGMA_PX = 24**-0.5
"""Of the mean of two edges, each known to one px: 1/√12 px an edge (GUM 4.3.7)."""


class FakeDetector:
    """A plain and slow detector: the median of the first frames, and a fixed step from it.

    It finds real parts, dark and bright, and passes `check_detector`. Its caller is held to
    the contract: frames in order, one size, uint8, read-only; `prime` once, before `see`, with
    the frames that follow.

    Parameters
    ----------
    view : the picture it looks at.
    step : least difference from the background, in grey levels.
    warm_up : frames it learns from where it was primed with none.
    fails_at : index of the frame at which `see` raises RuntimeError, as a broken plugin would.
    blind_at : indices of frames in which it sees nothing and says so.
    """

    def __init__(
        self,
        view: View | None = None,
        *,
        step: float = 20.0,
        warm_up: int = 15,
        fails_at: int | None = None,
        blind_at: Sequence[int] = (),
    ) -> None:
        self._view = view or View()
        self._step = step
        self._warm_up = warm_up
        self._fails_at = fails_at
        self._blind_at = frozenset(blind_at)
        self._background: NDArray[np.float64] | None = None
        self._learning: list[NDArray[np.uint8]] = []
        self._promised: int | None = None
        self._primed = False
        self._last: Frame | None = None

    def prime(self, frames: Sequence[Frame]) -> None:
        """Learn the background from these frames, if there are any."""
        require(not self._primed, "prime() was called twice")
        require(self._last is None, "prime() was called after see()")
        self._primed = True
        for frame in frames:
            _check_pixels(frame)
        if frames:
            self._promised = frames[0].index
            self._background = np.median([frame.pixels for frame in frames], axis=0)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return what stands out; the background is never learned anew."""
        self._check_turn(frame)
        if frame.index == self._fails_at:
            raise RuntimeError(f"fails at frame {frame.index}, as it was told to")
        if self._background is None and learn:
            self._learning.append(frame.pixels.copy())
            if len(self._learning) == self._warm_up:
                self._background = np.median(self._learning, axis=0)
                self._learning.clear()
        if frame.index in self._blind_at:
            return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=(), state=Seeing.BLIND)
        if self._background is None:
            return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=(), state=Seeing.WARMING_UP)
        return Sighting(
            index=frame.index,
            t_ns=frame.t_ns,
            blobs=tuple(self._blobs(np.abs(frame.pixels - self._background))),
            detectable_contrast=self._step,
        )

    def _check_turn(self, frame: Frame) -> None:
        _check_pixels(frame)
        if self._last is None:
            require(
                self._promised in (None, frame.index),
                f"primed from frame {self._promised} on, but frame {frame.index} came first",
            )
        else:
            require(
                frame.index > self._last.index and frame.t_ns > self._last.t_ns,
                f"frame {frame.index} came after frame {self._last.index}",
            )
        if self._background is not None:
            require(
                frame.pixels.shape == self._background.shape,
                f"frame {frame.index} is {frame.pixels.shape}, not {self._background.shape}",
            )
        self._last = Frame(index=frame.index, t_ns=frame.t_ns, pixels=np.empty((0, 0), np.uint8))

    def _blobs(self, difference: NDArray[np.float64]) -> Iterator[Blob]:
        standing_out = difference > self._step
        if not standing_out.any():
            return
        labels, _ = ndimage.label(standing_out, structure=np.ones((3, 3)))
        for number, box in enumerate(ndimage.find_objects(labels), start=1):
            mask = labels[box] == number
            if mask.sum() >= 6:
                yield self._blob(mask, np.where(mask, difference[box], 0), box, labels.shape)

    def _blob(
        self,
        mask: NDArray[np.bool_],
        weight: NDArray[np.float64],
        box: tuple[slice, ...],
        shape: tuple[int, ...],
    ) -> Blob:
        rows, columns = box
        y, x = (float(np.average(grid, weights=weight)) for grid in np.indices(mask.shape))
        dy, dx = np.nonzero(mask)
        (yy, xy), (_, xx) = np.cov(np.stack([dy, dx]).astype(float), bias=True)
        profile = mask.sum(axis=1 if self._view.falls.vertical else 0, dtype=np.uint16)
        profile.flags.writeable = False
        return Blob(
            x_px=columns.start + x,
            y_px=rows.start + y,
            sigma_x_px=_SIGMA_PX,
            sigma_y_px=_SIGMA_PX,
            area_px=float(mask.sum()),
            box=(columns.start, rows.start, columns.stop, rows.stop),
            moments=(float(xx), float(xy), float(yy)),
            profile=profile,
            cut_by_edge=0 in (rows.start, columns.start)
            or rows.stop == shape[0]
            or columns.stop == shape[1],
        )


class FakeCamera:
    """A camera that holds its frames already.

    Parameters
    ----------
    frames : in order; indices from 0 without a gap, the first at time zero, times growing,
        pixels uint8 of one size and read-only.
    notices : what it has to say once the frames are exhausted.
    fails_at : index of the frame at which it raises SourceError instead.
    """

    def __init__(
        self,
        frames: Sequence[Frame],
        notices: Sequence[Notice] = (),
        *,
        fails_at: int | None = None,
    ) -> None:
        for index, frame in enumerate(frames):
            _check_pixels(frame)
            require(frame.index == index, f"frame {index} has index {frame.index}")
            before = frames[index - 1] if index else None
            require(
                frame.t_ns > before.t_ns if before else frame.t_ns == 0,
                f"frame {index} has time {frame.t_ns} ns; the first is at 0, the others later",
            )
            require(frame.pixels.shape == frames[0].pixels.shape, f"frame {index} has another size")
        self._frames = tuple(frames)
        self._notices = tuple(notices)
        self._fails_at = fails_at
        self._open = False
        self._begun = False
        self._exhausted = False

    @classmethod
    def of_pictures(
        cls, pictures: Sequence[NDArray[np.uint8]], *, rate_hz: float = 120.0
    ) -> "FakeCamera":
        """Return a camera that shows these pictures at a steady rate."""
        frames = []
        for index, picture in enumerate(pictures):
            pixels = picture.copy()
            pixels.flags.writeable = False
            frames.append(Frame(index=index, t_ns=round(index * 1e9 / rate_hz), pixels=pixels))
        return cls(frames)

    def __enter__(self) -> Self:
        require(not self._open and not self._begun, "a camera is opened once")
        self._open = True
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def frames(self) -> Iterator[Frame]:
        """Yield the frames, once."""
        require(self._open, "frames() outside `with camera:`")
        require(not self._begun, "frames() was called twice")
        self._begun = True
        return self._each()

    def _each(self) -> Iterator[Frame]:
        for frame in self._frames:
            require(self._open, f"frame {frame.index} was asked for after close()")
            if frame.index == self._fails_at:
                raise SourceError(f"fails at frame {frame.index}, as it was told to")
            yield frame
        self._exhausted = True

    def notices(self) -> tuple[Notice, ...]:
        """Return the notices; nothing before the frames are exhausted."""
        return self._notices if self._exhausted else ()

    def close(self) -> None:
        """Let go; harmless when repeated."""
        self._open = False


def _check_pixels(frame: Frame) -> None:
    pixels = frame.pixels
    require(
        pixels.dtype == np.uint8 and pixels.ndim == 2,
        f"frame {frame.index} is {pixels.dtype} with {pixels.ndim} axes, not uint8 (H, W)",
    )
    require(not pixels.flags.writeable, f"frame {frame.index} can be written to")
