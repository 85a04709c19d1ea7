"""A second opinion: OpenCV's mixture of Gaussians (MOG2) behind the same interface.

Zivkovic, Pattern Recognit. Lett. 27 (2006) 773. It takes several greys per pixel for
background and so bears a restless one, at some ten times the cost of the difference.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray
from pydantic import Field

from viscount.seams import Options, View
from viscount.values import Frame, Seeing, Sighting
from viscount.vision.centre import along_fall
from viscount.vision.regions import Region, Scene, clear_of, find_regions
from viscount.vision.watch import Watch

_LEARN_EVERY = 8
"""Frames from one learning step to the next."""

_LEAST_VARIANCE = 1.0


class MixtureOptions(Options):
    """Options of the detector `mixture`.

    Attributes
    ----------
    threshold_sigma : difference, in sigma of the nearest Gaussian, that makes foreground.
    min_area_px : regions with fewer foreground pixels are left out.
    min_significance : regions whose summed difference is less than this many sigma of its
        own noise are left out.
    learning_rate : share of a new frame in the mixture at each learning step, which comes
        every 8 frames; 0 keeps it as it was first learned.
    """

    threshold_sigma: float = Field(4.5, ge=2, le=30)
    min_area_px: int = Field(4, ge=1)
    min_significance: float = Field(15, ge=0)
    learning_rate: float = Field(0.02, ge=0, le=0.5)


class MixtureDetector:
    """Sees parts as regions whose grey belongs to none of the background's Gaussians.

    Parameters
    ----------
    options : thresholds; see `MixtureOptions`.
    view : the direction of the fall.
    """

    def __init__(self, options: MixtureOptions, view: View) -> None:
        self._options = options
        self._vertical = view.falls.vertical
        self._watch = Watch(
            threshold_sigma=options.threshold_sigma,
            least_contrast=options.threshold_sigma * _LEAST_VARIANCE**0.5,
            learned=self._renew,
        )

    def prime(self, frames: Sequence[Frame]) -> None:
        """Learn the background from the run's first frames; parts may be among them."""
        self._watch.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return the regions of this frame that are no background.

        Raises
        ------
        DetectorFailedError : the frame has another size than those before it.
        """
        watch, options = self._watch, self._options
        state = watch.look(frame, learn=learn)
        if state is not Seeing.SEEING:
            return watch.answer(frame, state)
        gain = watch.light.brightness
        pixels: MatLike = frame.pixels
        if isinstance(gain, np.ndarray):
            pixels = cv2.convertScaleAbs(np.divide(pixels, gain))
        elif gain != 1:
            pixels = cv2.convertScaleAbs(pixels, alpha=1 / gain)
        mask = (self._mixture.apply(pixels, learningRate=0) > 0).view(np.uint8)
        scene = Scene(
            pixels=frame.pixels, level=self._level, sigma=watch.background.sigma, gain=gain
        )
        regions = find_regions(
            mask,
            scene,
            least_area_px=options.min_area_px,
            least_significance=options.min_significance,
        )
        blobs = along_fall(regions, mask.shape, vertical=self._vertical)
        if learn and options.learning_rate and not frame.damaged:
            self._step(pixels, regions)
        return watch.answer(frame, state, blobs)

    def _renew(self) -> None:
        """Begin a mixture at the learned background, with the learned noise.

        It is fed the background itself, not the first frame: a part in that one would stay
        as a ghost. Shadows are off: their grey of 127 would pass for foreground.
        """
        background = self._watch.background
        self._mixture = cv2.createBackgroundSubtractorMOG2(
            varThreshold=self._options.threshold_sigma**2, detectShadows=False
        )
        self._mixture.setVarMin(_LEAST_VARIANCE)
        self._mixture.setVarInit(max(_LEAST_VARIANCE, float(np.median(background.sigma)) ** 2))
        self._level: NDArray[np.float32] = background.level.copy()
        self._mixture.apply(cv2.convertScaleAbs(self._level), learningRate=1)
        self._turn = 0

    def _step(self, pixels: MatLike, regions: Sequence[Region]) -> None:
        """Let the mixture learn, every few frames, with the parts painted out."""
        self._turn = (self._turn + 1) % _LEARN_EVERY
        if self._turn:
            return
        empty = self._mixture.getBackgroundImage()
        clear = clear_of(regions, pixels.shape, slice(0, len(pixels)))
        scene = np.where(clear > 0, pixels, empty)
        self._mixture.apply(scene, learningRate=self._options.learning_rate)
        self._level = empty.astype(np.float32)
