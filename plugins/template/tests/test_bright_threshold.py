import numpy as np
import pytest
from pydantic import ValidationError
from viscount_plugin_template.bright_threshold import BrightThreshold, BrightThresholdOptions
from viscount_plugin_template.plugin import viscount_detectors

from viscount import Frame, Seeing, View
from viscount.testing import check_detector_entry


def frame(pixels: np.ndarray, index: int = 0) -> Frame:
    pixels = pixels.astype(np.uint8)
    pixels.flags.writeable = False
    return Frame(index=index, t_ns=1000 * index, pixels=pixels)


def detector(**options: int) -> BrightThreshold:
    return BrightThreshold(BrightThresholdOptions(**options), View())


def test_it_keeps_the_contract_for_the_parts_it_claims_to_see():
    (entry,) = viscount_detectors()
    check_detector_entry(entry, dark_parts=False)


def test_it_does_not_see_dark_parts_as_its_summary_says():
    (entry,) = viscount_detectors()
    with pytest.raises(AssertionError, match=r"0 blobs for a part of grey 40"):
        check_detector_entry(entry)
    assert "only parts brighter" in entry.summary


def test_regions_that_meet_at_a_corner_only_are_two():
    pixels = np.zeros((20, 20))
    pixels[2:6, 2:6] = pixels[6:10, 6:10] = 200
    assert [blob.box for blob in detector().see(frame(pixels)).blobs] == [
        (2, 2, 6, 6),
        (6, 6, 10, 10),
    ]


def test_regions_below_the_least_area_are_left_out():
    pixels = np.zeros((20, 20))
    pixels[2:5, 2:6] = 200
    assert len(detector(min_area_px=12).see(frame(pixels)).blobs) == 1
    assert len(detector(min_area_px=13).see(frame(pixels)).blobs) == 0


def test_a_picture_brighter_than_the_level_is_blindness_and_not_one_large_part():
    pixels = np.zeros((20, 20))
    pixels[:10] = 200
    assert detector().see(frame(pixels)).state is Seeing.SEEING
    pixels[10, 0] = 200
    sighting = detector().see(frame(pixels))
    assert sighting.state is Seeing.BLIND
    assert sighting.blobs == ()


def test_the_stated_sigma_is_honest():
    """Parts at random subpixel places: the error of the centre is within the stated sigma."""
    rng = np.random.default_rng(7)
    pixels = np.arange(60)
    errors, sigmas = [], []
    for index in range(300):
        x, y = rng.uniform(25, 35, 2)
        cover_x = np.clip(12.0 + 0.5 - np.abs(pixels - x), 0, 1)
        cover_y = np.clip(9.0 + 0.5 - np.abs(pixels - y), 0, 1)
        picture = 60 + 140 * np.outer(cover_y, cover_x) + rng.normal(0, 2, (60, 60))
        (blob,) = detector().see(frame(np.rint(picture), index)).blobs
        errors.append((blob.x_px - x, blob.y_px - y))
        sigmas.append((blob.sigma_x_px, blob.sigma_y_px))
    worst = np.sqrt(np.mean((np.array(errors) / np.array(sigmas)) ** 2, axis=0)).max()
    assert worst < 1.0


@pytest.mark.parametrize("level", [0, 255, "high"])
def test_a_level_that_can_see_nothing_is_refused(level):
    with pytest.raises(ValidationError):
        BrightThresholdOptions(level=level)
