"""A recording's frames under the times of its own fitted clock."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.stills import StillsCamera
from viscount.errors import SourceError
from viscount.measure.frame_clock import FrameClock, fit_frame_clock
from viscount.measure.time_step import time_step_ns
from viscount.values import Frame


class Clocked:
    """A camera whose times are put right where a steady clock fits them.

    `clock` is None where the recording does not tell its times beforehand.
    """

    def __init__(self, camera: PlaybackCamera | StillsCamera) -> None:
        self._camera = camera
        self.clock: FrameClock | None = None
        if isinstance(camera, PlaybackCamera) and (times := camera.times_ns()) is not None:
            self.clock = fit_frame_clock(times, time_step_ns(times, camera.tick_ns))

    @property
    def known_frames(self) -> int | None:
        """How many frames there are, as far as that is known beforehand."""
        if self.clock is not None:
            return int(self.clock.raw_ns.size)
        return self._camera.report().header.frames

    @property
    def lossless(self) -> bool:
        """Whether the pictures are kept as they were."""
        return self._camera.report().header.lossless

    def opened(self, count: int) -> tuple[list[Frame], Iterator[Frame]]:
        """Return the first frames, at most `count`, and all frames from the first on.

        The first are let go of one by one as they are taken again.

        Raises
        ------
        SourceError
            Where there is none.
        """
        frames = self._frames()
        opening = list(islice(frames, count))
        if not opening:
            raise SourceError("no picture could be decoded", where=str(self._camera.path))
        return opening, _chained(opening, frames)

    def _frames(self) -> Iterator[Frame]:
        for frame in self._camera.frames():
            if self.clock is not None and self.clock.steady:
                yield replace(frame, t_ns=self.clock.at(frame.t_ns))
            else:
                yield frame


def _chained(opening: list[Frame], rest: Iterator[Frame]) -> Iterator[Frame]:
    opening.reverse()
    while opening:
        yield opening.pop()
    yield from rest
