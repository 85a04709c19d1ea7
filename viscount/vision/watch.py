"""What a detector knows of the empty scene while it watches: background, noise and light.

Both built-in detectors watch in the same way; they differ in how they find the foreground.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.errors import DetectorFailedError
from viscount.values import Blob, Frame, Level, Notice, Seeing, Sighting
from viscount.vision.background import Background, learn_background, shows_empty_scene
from viscount.vision.light import Light
from viscount.vision.noise import detectable_contrast, threshold_map

_GATHERED = 24
"""Frames gathered to learn a background from while the run goes on."""

_LEAST_SIDE_PX = 8
"""In a smaller picture no part has room."""


class Watch:
    """Learns the empty scene, follows its light, and tells whether a frame can be judged.

    Parameters
    ----------
    threshold_sigma, least_contrast : see `viscount.vision.noise.threshold_map`.
    learned : called whenever a new background has been learned.

    Attributes
    ----------
    background, light, threshold : the empty scene, once there is one.
    """

    background: Background
    light: Light
    threshold: NDArray[np.uint8]

    def __init__(
        self, *, threshold_sigma: float, least_contrast: float, learned: Callable[[], None]
    ) -> None:
        self._threshold_sigma = threshold_sigma
        self._least_contrast = least_contrast
        self._learned = learned
        self._contrast: float | None = None
        self._gathered: list[NDArray[np.uint8]] = []
        self._notices: list[Notice] = []

    def prime(self, frames: Sequence[Frame]) -> None:
        """Learn the background from the run's first frames; none of them is kept."""
        whole = [frame.pixels for frame in frames if not frame.damaged]
        if whole:
            self._learn(whole)

    def look(self, frame: Frame, *, learn: bool) -> Seeing:
        """Tell whether parts can be seen in this frame; `light` is then that of the frame.

        Raises
        ------
        DetectorFailedError : the frame has another size than those before it.
        """
        if self._contrast is None:
            self._gather(frame, learn=learn)
            return Seeing.WARMING_UP
        if frame.pixels.shape != self.threshold.shape:
            raise DetectorFailedError(
                f"the picture is {frame.pixels.shape} px (height, width)",
                where=f"frame {frame.index}",
                allowed=f"{self.threshold.shape}, as in the frames before",
            )
        reading = self.light.read(frame.pixels)
        if not reading.explained:
            if self._gather(frame, learn=learn):
                self._light_changed(frame, "the background was learned anew")
            return Seeing.BLIND
        self._gathered.clear()
        if reading.jumped:
            self._light_changed(frame, "the background's brightness follows")
            return Seeing.BLIND
        return Seeing.SEEING

    def answer(self, frame: Frame, state: Seeing, blobs: tuple[Blob, ...] = ()) -> Sighting:
        """Return the sighting, with what there has been to say since the last one."""
        notices, self._notices = tuple(self._notices), []
        return Sighting(
            index=frame.index,
            t_ns=frame.t_ns,
            blobs=blobs,
            state=state,
            detectable_contrast=self._contrast,
            notices=notices,
        )

    def _gather(self, frame: Frame, *, learn: bool) -> bool:
        """Copy a frame to learn from; return True when that gave a background."""
        pixels = frame.pixels
        if self._gathered and self._gathered[0].shape != pixels.shape:
            self._gathered.clear()
        if learn and not frame.damaged:
            self._gathered.append(pixels.copy())
        if len(self._gathered) < _GATHERED:
            return False
        gathered, self._gathered = self._gathered, []
        return self._learn(gathered)

    def _learn(self, pictures: Sequence[NDArray[np.uint8]]) -> bool:
        """Learn the background; return False where the pictures show only darkness."""
        if min(pictures[0].shape) < _LEAST_SIDE_PX:
            raise DetectorFailedError(
                f"the picture is {pictures[0].shape} px (height, width)",
                allowed=f"{_LEAST_SIDE_PX} px and more",
                remedy="enlarge view.region_px in the outlet file",
            )
        for alike_only in (False, True):
            background = learn_background(pictures, alike_only=alike_only)
            threshold = threshold_map(
                background.level,
                background.sigma,
                threshold_sigma=self._threshold_sigma,
                least_contrast=self._least_contrast,
            )
            sure = shows_empty_scene(pictures, background, threshold)
            if sure:
                break
        if self._contrast is not None and self.light.darkened(background.level):
            return False
        self.background, self.threshold = background, threshold
        self.light = Light(background.level, background.sigma, background.gains, background.bands)
        self._contrast = detectable_contrast(threshold)
        self._learned()
        if not sure:
            text = "too few of the frames show an empty scene to be sure what is a part"
            self._notices.append(Notice(level=Level.DOUBT, code=Code.NO_BACKGROUND, text=text))
        return True

    def _light_changed(self, frame: Frame, what: str) -> None:
        self._notices.append(
            Notice(
                level=Level.INFO,
                code=Code.LIGHT_CHANGED,
                text=f"the light changed at once over the whole picture; {what}",
                where=f"frame {frame.index}",
            )
        )
