"""The default detector: the difference from a learned background, pixel by pixel."""

from collections.abc import Sequence

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray
from pydantic import Field

from viscount.seams import Options, View
from viscount.values import Frame, Seeing, Sighting
from viscount.vision.centre import along_fall
from viscount.vision.gain import Gain, within
from viscount.vision.regions import Region, Scene, clear_of, find_regions
from viscount.vision.watch import Watch

_STRIPS, _FRAMES_PER_STRIP = 8, 4
"""The background is renewed strip by strip, so that no single frame bears the whole cost."""

_HALVES_UP = 2**-10
"""Grey. Rounding halves to even whole greys would depend on the picture's brightness."""


class DifferenceOptions(Options):
    """Options of the detector `difference`.

    Attributes
    ----------
    threshold_sigma : difference, in noise sigma of the pixel, that makes foreground.
    least_contrast : difference in grey below which nothing is foreground, whatever the noise.
    min_area_px : regions with fewer foreground pixels are left out.
    min_significance : regions whose summed difference is less than this many sigma of its
        own noise are left out.
    learning_rate : share of a new frame in the background at each of its renewals, which come
        every 32 frames; 0 keeps the background as it was first learned.
    """

    threshold_sigma: float = Field(4.5, ge=2, le=30)
    least_contrast: float = Field(8, ge=1, le=200)
    min_area_px: int = Field(4, ge=1)
    min_significance: float = Field(15, ge=0)
    learning_rate: float = Field(0.15, ge=0, le=0.5)


class DifferenceDetector:
    """Sees parts as regions that differ from the empty scene, darker or brighter.

    Parameters
    ----------
    options : thresholds; see `DifferenceOptions`.
    view : the direction of the fall.
    """

    def __init__(self, options: DifferenceOptions, view: View) -> None:
        self._options = options
        self._vertical = view.falls.vertical
        self._watch = Watch(
            threshold_sigma=options.threshold_sigma,
            least_contrast=options.least_contrast,
            learned=self._renew,
        )

    def prime(self, frames: Sequence[Frame]) -> None:
        """Learn the background from the run's first frames; parts may be among them.

        Parameters
        ----------
        frames : 48 or more serve best. None of them is kept.
        """
        self._watch.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return the regions of this frame that differ from the background.

        Raises
        ------
        DetectorFailedError : the frame has another size than those before it.
        """
        watch, options, pixels = self._watch, self._options, frame.pixels
        state = watch.look(frame, learn=learn)
        if state is not Seeing.SEEING:
            return watch.answer(frame, state)
        gain = watch.light.brightness
        if isinstance(gain, np.ndarray) or gain != self._gain:
            self._lay(gain)
        cv2.absdiff(pixels, self._level, dst=self._mask)
        np.greater(self._mask, watch.threshold, out=self._foreground)
        scene = Scene(
            pixels=pixels, level=watch.background.level, sigma=watch.background.sigma, gain=gain
        )
        regions = find_regions(
            self._mask,
            scene,
            least_area_px=options.min_area_px,
            least_significance=options.min_significance,
        )
        blobs = along_fall(regions, pixels.shape, vertical=self._vertical)
        if learn and options.learning_rate and not frame.damaged:
            self._step(pixels, regions)
        return watch.answer(frame, state, blobs)

    def _renew(self) -> None:
        """Take up a background that has been learned."""
        shape = self._watch.background.level.shape
        self._level = np.empty(shape, np.uint8)
        self._lit = np.empty(shape if self._watch.background.bands else (0, 0), np.float32)
        self._mask = np.empty(shape, np.uint8)
        self._foreground = self._mask.view(bool)
        rows = -(-shape[0] // _STRIPS)
        self._strips = [slice(top, min(top + rows, shape[0])) for top in range(0, shape[0], rows)]
        self._turn = 0
        self._lay(1.0)

    def _lay(self, gain: Gain) -> None:
        """Round the background, in this light, to whole greys."""
        self._gain = gain
        level: MatLike = self._watch.background.level
        if isinstance(gain, np.ndarray):
            np.multiply(level, gain, out=self._lit)
            cv2.convertScaleAbs(self._lit, dst=self._level, beta=_HALVES_UP)
        else:
            cv2.convertScaleAbs(level, dst=self._level, alpha=gain, beta=_HALVES_UP)

    def _step(self, pixels: NDArray[np.uint8], regions: Sequence[Region]) -> None:
        """Let one strip of the background follow slow light, but never near a region."""
        self._turn = (self._turn + 1) % (_FRAMES_PER_STRIP * len(self._strips))
        number, wait = divmod(self._turn, _FRAMES_PER_STRIP)
        if wait:
            return
        strip = self._strips[number]
        clear = clear_of(regions, pixels.shape, strip)
        level = self._watch.background.level
        now: MatLike = pixels[strip]
        gain = within(self._gain, strip, slice(None))
        if isinstance(gain, np.ndarray):
            now = np.divide(now, gain)
        elif gain != 1:
            now = cv2.convertScaleAbs(now, alpha=1 / gain)
        cv2.accumulateWeighted(now, level[strip], self._options.learning_rate, mask=clear)
        if not isinstance(gain, np.ndarray):
            cv2.convertScaleAbs(level[strip], dst=self._level[strip], alpha=gain, beta=_HALVES_UP)
        if number == 0:
            self._keep_light(level)

    def _keep_light(self, level: NDArray[np.float32]) -> None:
        """Let the background take over, little by little, what has become of the light.

        Brightness is one number for the whole picture, so this goes under parts as well.
        """
        light = self._watch.light
        taken = light.gain**self._options.learning_rate
        if taken != 1:
            np.minimum(level * np.float32(taken), 255, out=level)
        light.renew(level, taken)
        self._gain = light.brightness
