from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pictures import box, empty, pixels, ring, sampled, with_part

from viscount.values import Blob
from viscount.vision.centre import along_fall
from viscount.vision.noise import threshold_map
from viscount.vision.regions import Scene, find_regions

SHAPE = (60, 60)
Picture = NDArray[np.float64]


def blobs_in(
    scene: Picture, noise: float = 0.0, rng: np.random.Generator | None = None, **view: bool
) -> tuple[Blob, ...]:
    taken = pixels(scene, rng, noise)
    level = np.full(scene.shape, 100.3, np.float32)
    sigma = np.full(scene.shape, max(0.5, np.hypot(noise, 12**-0.5)), np.float32)
    threshold = threshold_map(level, sigma, threshold_sigma=4.5, least_contrast=4)
    mask = (np.abs(taken - 100.0) > threshold).view(np.uint8)
    regions = find_regions(
        mask,
        Scene(pixels=taken, level=level, sigma=sigma),
        least_area_px=4,
        least_significance=15,
    )
    return along_fall(regions, scene.shape, vertical=view.get("vertical", True))


def upright(x: float, y: float, turn: float) -> Picture:
    return box(SHAPE, x, y, 16.4, 31.7)


def disc(x: float, y: float, turn: float) -> Picture:
    return ring(SHAPE, x, y, 10)


def screw(x: float, y: float, turn: float) -> Picture:
    """A head of 20 x 8 px on a shank of 10 x 30 px, about its own centre of area, turned."""
    middle = (160 * -15 + 300 * 4) / 460

    def inside(across: Picture, down: Picture) -> NDArray[np.bool_]:
        u = (across - x) * np.cos(turn) + (down - y) * np.sin(turn)
        v = (down - y) * np.cos(turn) - (across - x) * np.sin(turn) + middle
        head = (np.abs(u) <= 10) & (v >= -19) & (v <= -11)
        return head | ((np.abs(u) <= 5) & (v > -11) & (v <= 19))

    return sampled(SHAPE, inside)


def errors(
    shape: Callable[[float, float, float], Picture], contrast: float, noise: float, n: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return errors of the centre in px, and in units of the stated sigma, x and y."""
    rng = np.random.default_rng([int(contrast), int(10 * noise), n])
    off, normal = [], []
    for k in range(n):
        x, y = 29.5 + rng.uniform(-0.5, 0.5, 2)
        coverage = shape(x, y, rng.uniform(0, np.pi))
        sign = 1 if k % 2 else -1
        scene = 100.3 + coverage * np.clip(sign * contrast, -100, 154)
        (blob,) = blobs_in(scene, noise, rng)
        off.append((blob.x_px - x, blob.y_px - y))
        normal.append((off[-1][0] / blob.sigma_x_px, off[-1][1] / blob.sigma_y_px))
    return np.array(off), np.array(normal)


CASES = [(12, 0.5), (12, 1.5), (30, 0.5), (30, 4), (60, 2), (150, 1), (150, 4)]


@pytest.mark.parametrize("shape", [upright, disc, screw])
def test_stated_sigma_is_honest(shape: Callable[[float, float, float], Picture]) -> None:
    """Normalised errors have mean 0 and standard deviation 1: in sum, and in each case."""
    every = [errors(shape, contrast, noise, 30)[1] for contrast, noise in CASES]
    for case, normal in zip(CASES, every, strict=True):
        # Of 60 values; chance alone moves the deviation by 9 % (one sigma).
        assert 0.68 < normal.std() < 1.35, case
    pooled = np.concatenate(every)
    assert (pooled.std(axis=0) > 0.8).all()
    assert (pooled.std(axis=0) < 1.25).all()
    assert (np.abs(pooled.mean(axis=0)) < 4 / np.sqrt(len(pooled))).all()


@pytest.mark.parametrize("shape", [upright, disc, screw])
def test_dark_and_bright_parts_are_found_at_the_same_place(
    shape: Callable[[float, float, float], Picture],
) -> None:
    off, _ = errors(shape, 60, 1, 50)
    dark, bright = off[0::2], off[1::2]
    assert np.abs(dark.mean(axis=0) - bright.mean(axis=0)).max() < 0.01


def test_upright_box_is_measured_exactly() -> None:
    scene = 100.3 + box(SHAPE, 30.5, 40.5, 16, 32) * -60.3
    (blob,) = blobs_in(scene)
    assert (blob.x_px, blob.y_px) == pytest.approx((30.5, 40.5), abs=1e-6)
    assert blob.box == (23, 25, 39, 57)
    assert blob.area_px == 512
    assert blob.moments == pytest.approx((255 / 12, 0, 1023 / 12), abs=0.1)
    assert blob.profile.tolist() == [16] * 32
    assert blob.profile.dtype == np.uint16
    assert not blob.profile.flags.writeable
    assert not blob.cut_by_edge


def test_profile_follows_the_image_coordinate_along_the_fall() -> None:
    scene = empty(SHAPE, 100.3)
    scene[20:24, 10:30] = 40
    scene[24:40, 16:24] = 40
    (down,) = blobs_in(scene, vertical=True)
    assert down.profile.tolist() == [20] * 4 + [8] * 16
    (along,) = blobs_in(scene.T.copy(), vertical=False)
    assert along.profile.tolist() == down.profile.tolist()
    (across,) = blobs_in(scene, vertical=False)
    assert across.profile.tolist() == [4] * 6 + [20] * 8 + [4] * 6
    assert across.profile.sum() == across.area_px


def test_blobs_come_in_order_along_the_fall() -> None:
    scene = empty(SHAPE, 100.3)
    for x, y in ((10, 50), (30, 10), (50, 30)):
        scene = with_part(scene, box(SHAPE, x, y, 8, 8), 40)
    assert [round(blob.y_px) for blob in blobs_in(scene)] == [10, 30, 50]
    assert [round(blob.x_px) for blob in blobs_in(scene, vertical=False)] == [10, 30, 50]


@pytest.mark.parametrize(
    ("x", "y", "cut"),
    [
        (8, 36, True),
        (9, 36, False),
        (52, 36, True),
        (51, 36, False),
        (36, 16, True),
        (36, 17, False),
    ],
)
def test_cut_by_edge(x: float, y: float, cut: bool) -> None:
    (blob,) = blobs_in(100.3 + box(SHAPE, x - 0.5, y - 0.5, 16, 32) * -60)
    assert blob.cut_by_edge is cut


def test_a_part_dark_on_one_side_and_bright_on_the_other_is_centred() -> None:
    scene = empty(SHAPE, 100.3)
    scene[20:52, 28:36] = 40
    scene[20:52, 36:44] = 160
    (blob,) = blobs_in(scene)
    assert (blob.x_px, blob.y_px) == pytest.approx((35.5, 35.5), abs=0.05)


def test_faint_sliver_has_possible_moments() -> None:
    rng = np.random.default_rng(9)
    for _ in range(100):
        scene = empty(SHAPE, 100.3)
        scene[:1, 20:30] -= 20
        for blob in blobs_in(scene, 2, rng):
            xx, xy, yy = blob.moments
            assert xx > 0
            assert yy > 0
            assert xy * xy <= xx * yy * (1 + 1e-9)
            assert blob.sigma_x_px > 0
            assert blob.sigma_y_px > 0


@pytest.mark.parametrize("grey", [40.0, 90.0])
@pytest.mark.parametrize("behind", ["slope", "step", "spot"])
def test_centre_does_not_know_what_lies_behind(behind: str, grey: float) -> None:
    """Coverage is (level - pixel) / (level - grey), whatever the level is."""
    rows, columns = np.indices(SHAPE).astype(np.float64)
    level = {
        "slope": 130.0 + 1.5 * columns,
        "step": np.where(rows < 30, 150.0, 210.0),
        "spot": 150.0 + 60.0 * np.exp(-((rows - 20) ** 2 + (columns - 36) ** 2) / 60),
    }[behind]
    x, y = 30.37, 29.81
    taken = pixels(with_part(level, upright(x, y, 0.0), grey), None)
    scene = Scene(
        pixels=taken,
        level=level.astype(np.float32),
        sigma=np.full(SHAPE, 0.5, np.float32),
    )
    mask = (np.abs(taken - level) > 8).view(np.uint8)
    (blob,) = along_fall(find_regions(mask, scene), SHAPE, vertical=True)
    assert (blob.x_px, blob.y_px) == pytest.approx((x, y), abs=0.03)
