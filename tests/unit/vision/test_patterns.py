"""Patterns of brightness over lines, and the fit to the bulk of some values."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from viscount.vision.patterns import patterns_in, robust
from viscount.vision.profiles import Profiles

FRAMES, LINES = 48, 100
NOISE = 0.003


def profiled(ratios: NDArray[np.float64], stretches: list[NDArray[np.float64]]) -> Profiles:
    return Profiles(
        ratios=ratios,
        known=np.ones(ratios.shape, bool),
        stretches=np.stack(stretches),
        noise=NOISE,
        pixel_noise=5 * NOISE,
        grey=100.0,
        lines=np.arange(LINES),
    )


def banded(depth: float = 0.05) -> NDArray[np.float64]:
    """Return the true ratios (frames, lines) under a lamp."""
    frames, lines = np.arange(FRAMES)[:, None], np.arange(LINES)
    return 1 + depth * np.sin(2 * np.pi * (100 / 60 * frames + 0.7 * lines / LINES + 0.1))


def noisy(ratios: NDArray[np.float64], seed: int, times: float = 1.0) -> NDArray[np.float64]:
    return ratios + np.random.default_rng(seed).normal(0, times * NOISE, ratios.shape)


def thirds(ratios: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    return [noisy(ratios, seed, 3**0.5) for seed in (1, 2, 3)]


def test_patterns_are_those_of_the_singular_value_decomposition() -> None:
    ratios = noisy(banded(), 0)
    found = patterns_in(profiled(ratios, thirds(banded())))
    assert len(found) == 2
    _, values, right = np.linalg.svd(ratios - ratios.mean(axis=1)[:, None])
    assert np.linalg.norm(found, axis=1) == pytest.approx(values[:2], rel=0.01)
    overlap = (found / np.linalg.norm(found, axis=1)[:, None]) @ right[:2].T
    assert np.abs(np.diag(overlap)) == pytest.approx(1, abs=0.002)


@pytest.mark.parametrize("width", [12, 20])
def test_parts_before_some_lines_bend_no_pattern(width: int) -> None:
    plain = patterns_in(profiled(noisy(banded(), 0), thirds(banded())))
    crowded = banded()
    for k in range(FRAMES):
        crowded[k, (7 * k + np.arange(width)) % LINES] -= 0.4
    found = patterns_in(profiled(noisy(crowded, 0), thirds(banded())))
    assert len(found) == 2
    assert found @ plain.T == pytest.approx(plain @ plain.T, rel=0.05, abs=0.05)


def test_what_swings_in_some_stretches_only_is_no_light() -> None:
    ones = np.ones((FRAMES, LINES))
    here = 1 + 3 * (banded() - 1)
    assert not len(patterns_in(profiled(noisy(banded(), 0), thirds(ones)[:2] + thirds(here)[2:])))


def test_what_swings_in_few_frames_is_no_light() -> None:
    """Six of 48 frames, and so faintly that none of them is an outlier."""
    swung = banded(0.0115)
    rare = np.where(np.arange(FRAMES)[:, None] % 8 == 3, swung, 1.0)
    assert len(patterns_in(profiled(noisy(swung, 0), thirds(swung)))) == 2
    assert not len(patterns_in(profiled(noisy(rare, 0), thirds(rare))))


@pytest.mark.parametrize("depth", [0.0, 0.003])
def test_noise_makes_no_pattern(depth: float) -> None:
    for seed in range(20):
        ratios = noisy(banded(depth), seed)
        assert not len(patterns_in(profiled(ratios, thirds(banded(depth)))))


def basis_and_values() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lines = np.linspace(0, 1, 30)
    basis = np.stack([np.ones(30), np.cos(3 * lines), np.sin(3 * lines)])
    return basis, np.array([1.02, 0.05, -0.03]) @ basis


ALL = np.ones(30, bool)


def test_the_fit_to_clean_values_is_that_of_least_squares() -> None:
    basis, values = basis_and_values()
    values = values + np.random.default_rng(3).normal(0, 0.002, 30)
    peer, *_ = np.linalg.lstsq(basis.T, values, rcond=None)
    assert basis.T @ robust(values, basis, ALL, 0.002) == pytest.approx(basis.T @ peer, abs=0.0008)


def test_outliers_move_the_fit_no_more_than_that_of_a_peer() -> None:
    basis, truth = basis_and_values()
    rng = np.random.default_rng(3)
    values = truth + rng.normal(0, 0.002, 30)
    values[rng.permutation(30)[:9]] -= 0.5
    peer = least_squares(lambda a: (a @ basis - values) / 0.002, [1.0, 0.0, 0.0], loss="cauchy").x
    ours = robust(values, basis, ALL, 0.002) @ basis
    assert np.abs(ours - truth).max() < 0.003
    assert np.abs(ours - truth).max() <= np.abs(peer @ basis - truth).max() + 0.001


def test_a_lane_of_parts_is_borne_where_it_is_unlikely() -> None:
    basis, truth = basis_and_values()
    values = truth + np.random.default_rng(3).normal(0, 0.002, 30)
    values[4:16] -= 0.5
    ours = robust(values, basis, np.abs(values - 1) < 0.3, 0.002) @ basis
    assert np.abs(ours - truth).max() < 0.004


def test_what_is_likely_only_begins_the_fit() -> None:
    basis, truth = basis_and_values()
    few, half = np.arange(30) < 8, np.arange(30) % 2 == 0
    for likely in (few, half):
        assert robust(truth, basis, likely, 1e-9) @ basis == pytest.approx(truth, abs=1e-6)
