import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import box, empty, pixels, ring, with_part

from viscount.vision.regions import Region, Scene, find_regions

SHAPE = (120, 120)


def regions_of(
    scene: NDArray[np.float64],
    *,
    threshold: float = 9,
    noise: float = 0.0,
    seed: int = 1,
    gain: float = 1.0,
    significance: float = 15.0,
    area: int = 4,
    sigma: float = 0.5,
) -> list[Region]:
    """Cut a scene before a background of 100 into regions."""
    rng = np.random.default_rng(seed) if noise else None
    taken = pixels(scene, rng, noise)
    mask = np.abs(taken - 100.0 * gain) > threshold
    level = np.full(scene.shape, 100, np.float32)
    spread = np.full(scene.shape, max(noise, sigma), np.float32)
    return find_regions(
        mask.view(np.uint8),
        Scene(pixels=taken, level=level, sigma=spread, gain=gain),
        least_area_px=area,
        least_significance=significance,
    )


def test_a_ring_is_one_region_and_its_bore_none() -> None:
    (region,) = regions_of(with_part(empty(SHAPE), ring(SHAPE, 60, 60, 20, 8), 40))
    assert region.area == pytest.approx(np.pi * (20**2 - 8**2), rel=0.1)
    assert region.own[60 - region.top, 60 - region.left] == 0


def test_what_lies_in_a_bore_belongs_to_the_ring() -> None:
    scene = with_part(empty(SHAPE), ring(SHAPE, 60, 60, 20, 8), 40)
    assert len(regions_of(with_part(scene, ring(SHAPE, 60, 60, 4), 40))) == 1


def test_parts_sharing_a_corner_are_one_region() -> None:
    scene = with_part(empty(SHAPE), box(SHAPE, 39.5, 39.5, 20, 20), 40)
    assert len(regions_of(with_part(scene, box(SHAPE, 59.5, 59.5, 20, 20), 40))) == 1
    assert len(regions_of(with_part(scene, box(SHAPE, 60.5, 59.5, 20, 20), 40))) == 2


@pytest.mark.parametrize("gap", [1, 2, 3, 6])
@pytest.mark.parametrize("grey", [40.0, 180.0])
def test_close_parts_keep_their_own_pixels(gap: int, grey: float) -> None:
    """Side by side or one behind the other, each is measured as if it were alone."""
    scene = with_part(empty(SHAPE), box(SHAPE, 39.5, 59.5, 16, 32), grey)
    scene = with_part(scene, box(SHAPE, 39.5 + 16 + gap, 59.5, 16, 32), grey)
    scene = with_part(scene, box(SHAPE, 39.5, 59.5 + 32 + gap, 16, 32), grey)
    regions = regions_of(scene)
    assert len(regions) == 3
    for region in regions:
        assert region.area == 16 * 32
        assert region.total == pytest.approx(abs(grey - 100) * 16 * 32)
        assert (region.weights != 0).sum() == region.area


@pytest.mark.parametrize("gap", [1, 2])
def test_a_faint_part_takes_no_weight_from_its_neighbour(gap: int) -> None:
    """The rim for soft edges, wide where a part is faint, ends before the neighbour's."""
    scene = with_part(empty(SHAPE), box(SHAPE, 39.5, 59.5, 16, 32), 114)
    scene = with_part(scene, box(SHAPE, 39.5 + 16 + gap, 59.5, 16, 32), 60)
    faint, strong = sorted(regions_of(scene, sigma=1.0), key=lambda region: region.x)
    assert faint.reach.sum() > faint.area
    assert faint.weights.sum() == pytest.approx(14 * 512)
    assert strong.weights.sum() == pytest.approx(-40 * 512)


def test_a_neighbour_in_the_box_but_not_in_the_region() -> None:
    """A small part in the hollow of a bent one."""
    scene = with_part(empty(SHAPE), box(SHAPE, 40, 60, 6, 60), 40)
    scene = with_part(scene, box(SHAPE, 60, 88, 40, 6), 40)
    scene = with_part(scene, box(SHAPE, 60, 60, 10, 10), 40)
    regions = sorted(regions_of(scene), key=lambda region: region.area)
    assert len(regions) == 2
    assert 90 <= regions[0].area <= 122
    assert regions[1].w > 40


def test_weak_specks_are_left_out() -> None:
    scene = empty(SHAPE)
    scene[20:22, 20:22] = 112
    scene[60:70, 60:70] = 112
    (region,) = regions_of(scene, noise=0.0, significance=30)
    assert (region.x, region.y, region.area) == (60, 60, 100)
    assert len(regions_of(scene, significance=0, area=1)) == 2
    assert len(regions_of(scene, significance=0, area=5)) == 1


def test_noise_makes_no_regions() -> None:
    found = [regions_of(empty(SHAPE), noise=2.0, seed=seed) for seed in range(200)]
    assert not any(found)


def test_ringing_beside_a_bright_part_is_left_out_but_a_faint_part_is_not() -> None:
    scene = with_part(empty(SHAPE), ring(SHAPE, 40, 60, 18), 250)
    scene[58:62, 62:64] += 11
    scene = with_part(scene, box(SHAPE, 80, 60, 20, 20), 113)
    regions = regions_of(scene)
    assert sorted(region.x for region in regions) == [22, 71]


def test_a_faint_bridge_between_strong_parts_is_no_part_of_them() -> None:
    scene = with_part(empty(SHAPE), box(SHAPE, 39.5, 59.5, 16, 32), 240)
    scene = with_part(scene, box(SHAPE, 57.5, 59.5, 16, 32), 240)
    scene[44:76, 48:50] = 114
    assert len(regions_of(scene)) == 2
    scene[44:76, 48:50] = 150
    assert len(regions_of(scene)) == 1


def test_a_part_with_a_dim_face_between_bright_edges_stays_whole() -> None:
    scene = with_part(empty(SHAPE), box(SHAPE, 59.5, 59.5, 40, 32), 110)
    scene[44:76, 40:52] = 250
    scene[44:76, 68:80] = 250
    (region,) = regions_of(scene)
    assert region.w == 40


def test_brightness_of_the_frame_is_taken_into_account() -> None:
    scene = with_part(empty(SHAPE), box(SHAPE, 59.5, 59.5, 16, 32), 40) * 1.1
    (region,) = regions_of(scene, gain=1.1)
    assert region.strength == pytest.approx(66, abs=0.5)


@pytest.mark.parametrize("place", [(0, 60), (119, 60), (60, 0), (60, 119), (0, 0)])
def test_regions_at_the_border(place: tuple[int, int]) -> None:
    (region,) = regions_of(with_part(empty(SHAPE), box(SHAPE, *place, 16, 16), 40))
    assert region.own.shape == region.weights.shape
    assert region.left >= 0
    assert region.top >= 0


def test_an_empty_mask_has_no_regions() -> None:
    assert regions_of(empty(SHAPE)) == []
