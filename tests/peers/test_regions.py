"""Our regions against scipy's and scikit-image's, on random masks and on a photograph.

Ours are 8-connected. A bore is part of what surrounds it, with all that lies in it; so the
peers label the mask with its holes filled.
"""

import numpy as np
import pytest
import scipy.ndimage
import skimage.data
import skimage.filters
import skimage.measure
import skimage.segmentation
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from numpy.typing import NDArray

from viscount.vision.centre import along_fall
from viscount.vision.regions import Region, Scene, find_regions

CONNECTED_8 = np.ones((3, 3), int)
Mask = NDArray[np.bool_]

masks = arrays(
    bool, array_shapes(min_dims=2, max_dims=2, min_side=3, max_side=24), elements=st.booleans()
)


def flat(mask: Mask, grey: NDArray[np.uint8] | None = None) -> Scene:
    """Return a scene of this grey where the mask is, on nothing, without noise."""
    if grey is None:
        grey = np.full(mask.shape, 200, np.uint8)
    return Scene(
        pixels=grey * mask.astype(np.uint8),
        level=np.zeros(mask.shape, np.float32),
        sigma=np.full(mask.shape, 0.5, np.float32),
    )


def ours(mask: Mask, scene: Scene, least_area_px: int = 1) -> list[Region]:
    return find_regions(mask.view(np.uint8), scene, least_area_px=least_area_px)


def labelled(mask: Mask) -> tuple[NDArray[np.int32], int]:
    return scipy.ndimage.label(scipy.ndimage.binary_fill_holes(mask), CONNECTED_8)


@settings(max_examples=150, deadline=None)
@given(mask=masks)
def test_as_many_regions_as_scipy_labels(mask: Mask) -> None:
    labels, count = labelled(mask)
    regions = ours(mask, flat(mask))
    assert len(regions) == count
    boxes = {
        (columns.start, rows.start, columns.stop, rows.stop)
        for rows, columns in scipy.ndimage.find_objects(labels)
    }
    assert {(r.x, r.y, r.x + r.w, r.y + r.h) for r in regions} == boxes


@settings(max_examples=150, deadline=None)
@given(mask=masks, seed=st.integers(0, 2**32 - 1))
def test_centres_are_scipys_centres_of_mass(mask: Mask, seed: int) -> None:
    grey = np.random.default_rng(seed).integers(120, 256, mask.shape, np.uint8)
    scene = flat(mask, grey)
    labels, count = labelled(mask)
    found = along_fall(ours(mask, scene), mask.shape, vertical=True)
    centres = scipy.ndimage.center_of_mass(scene.pixels, labels, range(1, count + 1))
    areas = scipy.ndimage.sum_labels(mask, labels, range(1, count + 1))
    expected = sorted((y, x, area) for (y, x), area in zip(centres, areas, strict=True))
    got = sorted((blob.y_px, blob.x_px, blob.area_px) for blob in found)
    assert np.allclose(got, expected, atol=1e-6)


@settings(max_examples=100, deadline=None)
@given(mask=masks)
def test_moments_and_profiles_are_scikit_images(mask: Mask) -> None:
    labels, _ = labelled(mask)
    found = along_fall(ours(mask, flat(mask)), mask.shape, vertical=True)
    peers = {p.bbox: p for p in skimage.measure.regionprops(labels * mask)}
    assert len(found) == len(peers)
    for blob in found:
        x0, y0, x1, y1 = blob.box
        peer = peers[y0, x0, y1, x1]
        central = peer.moments_central / peer.area
        xx, xy, yy = blob.moments
        assert xx == pytest.approx(max(central[0, 2], 1 / 12), abs=1e-6)
        assert yy == pytest.approx(max(central[2, 0], 1 / 12), abs=1e-6)
        assert xy == pytest.approx(central[1, 1], abs=1e-6)
        assert blob.profile.tolist() == peer.image.sum(axis=1).tolist()


def test_the_corners_of_scipys_own_example_connect() -> None:
    """The array in the docstring of scipy.ndimage.label: 4 regions there, 2 with corners."""
    mask = np.array(
        [[0, 0, 1, 1, 0, 0], [0, 0, 0, 1, 0, 0], [1, 1, 0, 0, 1, 0], [0, 0, 0, 1, 0, 0]], bool
    )
    assert scipy.ndimage.label(mask)[1] == 4
    assert scipy.ndimage.label(mask, CONNECTED_8)[1] == 2
    assert len(ours(mask, flat(mask))) == 2


def test_the_24_coins_of_a_photograph() -> None:
    """scikit-image's `data.coins`: 6 x 4 coins, counted by eye; masks as in its own tutorials.

    Sobel edges and a watershed from markers at 30 and 150 give 25 regions, one of 2 px.
    """
    coins = skimage.data.coins()
    assert coins.shape == (303, 384)
    assert coins.mean() == pytest.approx(96.855516, abs=1e-6)
    assert skimage.filters.threshold_otsu(coins) == 107
    markers = np.zeros(coins.shape, int)
    markers[coins < 30], markers[coins > 150] = 1, 2
    parted = skimage.segmentation.watershed(skimage.filters.sobel(coins), markers)
    mask = scipy.ndimage.binary_fill_holes(parted - 1)
    assert scipy.ndimage.label(mask)[1] == 25
    regions = ours(mask, flat(mask, coins), least_area_px=100)
    assert len(regions) == 24
    peers = [p for p in skimage.measure.regionprops(skimage.measure.label(mask)) if p.area > 100]
    assert sorted(region.area for region in regions) == sorted(int(p.area) for p in peers)
