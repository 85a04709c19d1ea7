"""From the background's noise to the least difference that counts as foreground."""

import cv2
import numpy as np
from numpy.typing import NDArray

_STEADY_PX = 0.1
"""How steadily the camera looks: shaking by this much moves the background's edges about."""


def threshold_map(
    level: NDArray[np.float32],
    sigma: NDArray[np.float32],
    *,
    threshold_sigma: float,
    least_contrast: float,
) -> NDArray[np.uint8]:
    """Return the greatest difference that is still background, in whole greys.

    Parameters
    ----------
    level, sigma : float32 (H, W), grey of the empty scene and noise of one pixel.
    threshold_sigma : how many sigma the noise is allowed.
    least_contrast : the least grey step that counts, whatever the noise.
    """
    along_x = cv2.Sobel(level, cv2.CV_32F, 1, 0, scale=1 / 8)
    along_y = cv2.Sobel(level, cv2.CV_32F, 0, 1, scale=1 / 8)
    unrest = np.sqrt(sigma**2 + _STEADY_PX**2 * (along_x**2 + along_y**2))
    steps = np.floor(threshold_sigma * unrest + np.float32(0.5))
    return np.clip(steps, np.ceil(least_contrast) - 1, 254).astype(np.uint8)


def detectable_contrast(threshold: NDArray[np.uint8]) -> float:
    """Return the grey step from the background that shows in 95 % of the picture."""
    return float(np.percentile(threshold[::4, ::4], 95)) + 1
