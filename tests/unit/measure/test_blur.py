"""Motion blur of boxes drawn here, against a plain running mean."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter1d

from viscount.measure.blur import blur_px, edges, growth_s


def part(blur: int, *, noise: float = 2.0, contrast: float = 140.0) -> np.ndarray:
    picture = np.zeros((120, 40))
    picture[30:90, 12:28] = contrast
    smeared = uniform_filter1d(picture, blur, axis=0) if blur > 1 else picture
    sharp = gaussian_filter(smeared, 0.6)
    noisy = sharp + np.random.default_rng(3).normal(0, noise, picture.shape)
    return np.abs(noisy[30 - blur // 2 - 3 : 90 + blur // 2 + 3, 9:31])


@pytest.mark.parametrize("blur", [4, 8, 16, 30])
def test_blur_of_a_part(blur: int):
    found = edges(part(blur))
    assert found is not None
    assert found.lead_px is not None
    assert found.trail_px is not None
    assert found.side_px is not None
    assert float(blur_px(found.lead_px, found.side_px)) == pytest.approx(blur, rel=0.15)
    assert float(blur_px(found.trail_px, found.side_px)) == pytest.approx(blur, rel=0.15)
    assert found.contrast == pytest.approx(140, rel=0.08)


def test_a_still_part_is_not_blurred():
    found = edges(part(1))
    assert found is not None
    assert found.lead_px is not None
    assert found.side_px is not None
    assert float(blur_px(found.lead_px, found.side_px)) < 1.0


def test_ends_out_of_view_are_not_told():
    found = edges(part(8), lead=False, sides=False)
    assert found is not None
    assert found.lead_px is None
    assert found.side_px is None
    assert found.trail_px is not None


def test_nothing_is_no_part():
    assert edges(np.zeros((20, 20))) is None


def test_pictures_grow_with_speed_by_the_exposure():
    speeds = np.linspace(3000, 6000, 60)
    lengths = 20 + 0.004 * speeds + np.random.default_rng(4).normal(0, 1, 60)
    lengths[::9] *= 2
    low, high = growth_s(speeds, lengths) or (0.0, 0.0)
    assert low < 0.004 < high
    assert high - low < 0.002


def test_one_speed_tells_no_growth():
    assert growth_s(np.full(60, 3000.0), np.arange(60.0)) is None
    assert growth_s(np.array([1.0, 2.0]), np.array([1.0, 2.0])) is None
