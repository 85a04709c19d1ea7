"""A detector on trial: fed frame by frame, every answer looked at."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from viscount.seams import Detector
from viscount.testing.answers import check_sighting, require
from viscount.testing.scene import SHAPE, Film
from viscount.values import Blob, Falls, Frame, Seeing, Sighting


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """The detector under test, and what may be asked of it."""

    make: Callable[[], Detector]
    falls: Falls
    greys: tuple[float, ...]
    lead_in: int

    def film(self, shape: tuple[int, int] = SHAPE, *, noise: float = 2.0) -> Film:
        """Return a new film of the empty view, for parts to be put in."""
        return Film(self.falls, shape, noise=noise)

    def started(self, film: Film) -> "Trial":
        """Return a detector that has seen the empty view and sees parts now."""
        trial = Trial(self)
        lead_in = [film.frame() for _ in range(self.lead_in)]
        trial.prime(lead_in)
        for frame in lead_in:
            last = trial.see(frame)
        require(
            last.state is Seeing.SEEING,
            f"after {self.lead_in} frames of an empty view the state is still '{last.state}'",
        )
        return trial


class Trial:
    """One detector, fed frame by frame; whatever it answers is looked at."""

    def __init__(self, subject: Subject) -> None:
        made = subject.make()
        require(
            isinstance(made, Detector),
            f"the maker made a {type(made).__name__}, without prime(frames) and see(frame)",
        )
        self._detector = made
        self._falls = subject.falls

    def prime(self, frames: Sequence[Frame]) -> None:
        """Prime the detector, and look whether it wrote to the frames."""
        before = [frame.pixels.copy() for frame in frames]
        try:
            self._detector.prime(frames)
        except Exception as error:
            raise AssertionError(f"prime() with {len(frames)} frames raised {error!r}") from error
        for frame, pixels in zip(frames, before, strict=True):
            require(np.array_equal(frame.pixels, pixels), f"prime() wrote to frame {frame.index}")

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return the detector's answer, found to be whole and this frame's own."""
        before = frame.pixels.copy()
        try:
            sighting = self._detector.see(frame, learn=learn)
        except Exception as error:
            raise AssertionError(f"frame {frame.index}: see() raised {error!r}") from error
        require(np.array_equal(frame.pixels, before), f"frame {frame.index}: see() wrote to it")
        check_sighting(sighting, frame, falls=self._falls)
        return sighting

    def see_now(self, frame: Frame, *, learn: bool = True) -> tuple[Blob, ...]:
        """Return the blobs of a frame in which the detector has no reason not to see."""
        sighting = self.see(frame, learn=learn)
        require(
            sighting.state is Seeing.SEEING,
            f"frame {frame.index}: the state is '{sighting.state}' in a plain scene",
        )
        return sighting.blobs

    def see_one(self, frame: Frame, what: str, *, learn: bool = True) -> Blob:
        """Return the blob of a frame in which there is exactly one."""
        blobs = self.see_now(frame, learn=learn)
        require(len(blobs) == 1, f"frame {frame.index}: {len(blobs)} blobs for {what}")
        return blobs[0]

    def answers(self, frames: Sequence[Frame], primed: int) -> Iterator[Sighting]:
        """Prime with the first frames, then answer all of them."""
        self.prime(frames[:primed])
        for frame in frames:
            yield self.see(frame)

    def answers_from_one_buffer(self, frames: Sequence[Frame], primed: int) -> Iterator[Sighting]:
        """Answer like `answers`, every buffer used again as soon as its call is done."""
        lent = [frame.pixels.copy() for frame in frames[:primed]]
        self.prime([with_pixels(frame, own) for frame, own in zip(frames, lent, strict=False)])
        for own in lent:
            own[...] = 255 - own
        buffer = np.empty_like(frames[0].pixels)
        for frame in frames:
            np.copyto(buffer, frame.pixels)
            yield self.see(with_pixels(frame, buffer))


def with_pixels(frame: Frame, pixels: Any) -> Frame:
    """Return the frame with a read-only look at other pixels."""
    look = pixels[...]
    look.flags.writeable = False
    return replace(frame, pixels=look)
