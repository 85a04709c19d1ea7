"""The wave in noisy patterns, against truth and against scipy's least squares."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from viscount.vision.wave import wave_in

PLACES = (np.arange(150) + 0.5) / 150


def patterns(cycles: float, *, harmonics: int = 1, noise: float = 0.02) -> NDArray[np.float64]:
    """Return two patterns, at right angles, of waves whose harmonics fall off."""
    rng = np.random.default_rng(5)
    angles = 2 * np.pi * cycles * PLACES
    made = [
        sum(np.sin(h * angles + h * phase) / h**1.5 for h in range(1, harmonics + 1))
        for phase in (0.4, 0.4 + np.pi / 2)
    ]
    return np.array([made[0], 0.5 * made[1]]) + rng.normal(0, noise, (2, len(PLACES)))


@pytest.mark.parametrize("cycles", [0.4, 0.9, 1.7, 5.3, 11.0])
def test_cycles_are_those_of_least_squares(cycles: float) -> None:
    given = patterns(cycles)

    def left(about: NDArray[np.float64]) -> NDArray[np.float64]:
        angles = 2 * np.pi * about[0] * PLACES
        basis = np.stack([np.ones_like(angles), np.cos(angles), np.sin(angles)])
        fitted, *_ = np.linalg.lstsq(basis.T, given.T, rcond=None)
        return (basis.T @ fitted - given.T).ravel()

    peer = least_squares(left, [cycles], xtol=1e-10).x[0]
    wave = wave_in(PLACES, given, 18.0)
    assert wave is not None
    assert wave.harmonics == 1
    # Waves are tried at every 0.004 cycles.
    assert wave.cycles == pytest.approx(peer, abs=0.004)


@pytest.mark.parametrize("harmonics", [2, 3])
def test_harmonics_are_taken_up_where_there_are_some(harmonics: int) -> None:
    wave = wave_in(PLACES, patterns(2.3, harmonics=harmonics), 18.0)
    assert wave is not None
    assert wave.harmonics == harmonics
    assert wave.cycles == pytest.approx(2.3, abs=0.02)


def test_harmonics_too_fine_for_the_picture_are_left_out() -> None:
    wave = wave_in(PLACES, patterns(2.3, harmonics=3), 5.0)
    assert wave is not None
    assert wave.harmonics <= 2


def test_what_is_no_wave_is_none() -> None:
    rng = np.random.default_rng(6)
    assert wave_in(PLACES, rng.normal(0, 1, (2, len(PLACES))), 18.0) is None
    ridge = np.exp(-np.square((PLACES - 0.4) / 0.05))[None]
    assert wave_in(PLACES, ridge, 18.0) is None
    assert wave_in(PLACES, patterns(0.4), 0.05) is None


def test_modes_are_upright_and_hold_the_wave() -> None:
    wave = wave_in(PLACES, patterns(1.7), 18.0)
    assert wave is not None
    modes = wave.over(400)
    assert modes @ modes.T / 400 == pytest.approx(np.eye(2), abs=1e-9)
    assert modes.mean(axis=1) == pytest.approx(0, abs=1e-9)
    sine = np.sin(2 * np.pi * wave.cycles * np.arange(400) / 400 + 1.2)
    basis = np.vstack([np.ones(400), modes])
    fitted, *_ = np.linalg.lstsq(basis.T, sine, rcond=None)
    assert np.abs(basis.T @ fitted - sine).max() < 1e-9
