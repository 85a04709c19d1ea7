import numpy as np
import pytest

from viscount.vision.noise import detectable_contrast, threshold_map

FLAT = np.full((40, 40), 100, np.float32)


@pytest.mark.parametrize("sigma", [0.5, 1.0, 2.0, 4.0])
def test_white_noise_hardly_ever_passes(sigma: float) -> None:
    rng = np.random.default_rng(11)
    spread = np.full((400, 400), np.hypot(sigma, 12**-0.5), np.float32)
    threshold = threshold_map(
        np.full((400, 400), 100.4, np.float32), spread, threshold_sigma=4.5, least_contrast=1
    )
    passed = sum(
        int((np.abs(np.rint(100.4 + rng.normal(0, sigma, (400, 400))) - 100) > threshold).sum())
        for _ in range(10)
    )
    assert passed <= 30  # normal law beyond 4.5 sigma: 11 of 1.6 million


def test_least_contrast_is_the_least_step_that_counts() -> None:
    threshold = threshold_map(FLAT, FLAT * 0 + 0.5, threshold_sigma=4.5, least_contrast=12)
    assert (threshold == 11).all()
    assert detectable_contrast(threshold) == 12


def test_an_edge_in_the_background_may_shake() -> None:
    level = FLAT.copy()
    level[:, 20:] = 180
    threshold = threshold_map(level, FLAT * 0 + 1, threshold_sigma=4.5, least_contrast=4)
    assert threshold[20, 19] > 15
    assert (threshold[:, :18] == 5).all()


def test_great_noise_stays_within_a_byte() -> None:
    threshold = threshold_map(FLAT, FLAT * 0 + 90, threshold_sigma=4.5, least_contrast=4)
    assert (threshold == 254).all()
