"""Assignment, births and deaths, and the filter behind the predictions."""

from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model
from streams import blob

from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.linking import Linker, _sight
from viscount.motion.matching import FORBIDDEN, assigned
from viscount.motion.track import Axis
from viscount.values import Falls, Sighting

VIEW = (480, 160)
WHOLE = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)


@pytest.mark.parametrize(
    ("cost", "columns", "total"),
    [
        # The example in scipy's docstring of optimize.linear_sum_assignment.
        ([[4, 1, 3], [2, 0, 5], [3, 2, 2]], [1, 0, 2], 5),
        # The examples in the tests of the tracking metrics package motmetrics (test_lap.py).
        ([[6, 9, 1], [10, 3, 2], [8, 7, 4]], [2, 1, 0], 12),
        ([[5, 5, 6], [1, 2, 5], [2, 4, 5]], None, 10),
        ([[6, 4, 1], [10, 8, 2]], [1, 2], 6),
        ([[6, 10], [4, 8], [1, 2]], None, 6),
    ],
)
def test_assignment(cost: list[list[int]], columns: list[int] | None, total: int):
    matrix = np.array(cost, dtype=float)
    # Births and deaths dearer than any match: as many tracks as can are continued.
    dear = 1e3
    pairs = assigned(matrix, np.full(matrix.shape[1], dear), np.full(matrix.shape[0], dear))
    assert sum(matrix[i, j] for i, j in pairs) == total
    assert len(pairs) == min(matrix.shape)
    if columns is not None:
        assert [j for _, j in sorted(pairs)] == columns


def test_a_match_dearer_than_death_and_birth_together_is_not_made():
    matrix = np.array([[10.0]])
    assert assigned(matrix, np.array([4.0]), np.array([5.0])) == []
    assert assigned(matrix, np.array([6.0]), np.array([5.0])) == [(0, 0)]


def test_forbidden_matches_are_never_made():
    matrix = np.array([[FORBIDDEN, 1.0], [FORBIDDEN, 2.0]])
    pairs = assigned(matrix, np.full(2, 30.0), np.full(2, 30.0))
    assert pairs == [(0, 1)]


def test_a_sighting_holds_what_its_blob_shows():
    blobs = (blob(30, 100, 20, 40, VIEW), blob(155, 470, 30, 60, VIEW, sigma=0.2))
    now = detections(Sighting(index=7, t_ns=5_000_000, blobs=blobs), WHOLE, 0)
    sight = _sight(now, 1, 1.5, 2.5, alone=False)
    assert (sight.frame, sight.blob, sight.y, sight.var_y) == (7, 1, 1.5, 2.5)
    assert (sight.whole, sight.alone, sight.aside) == (False, False, True)
    assert sight.behind == now.y[1] - now.tail[1]
    assert np.isnan(sight.waist)
    same = ("x", "var_x", "length", "area", "var_along", "var_across")
    assert [getattr(sight, name) for name in same] == [getattr(now, name)[1] for name in same]
    assert sight.t_s == now.time_s[1]


def _axis(**changes: float) -> Axis:
    values = {
        "place": 0.0,
        "speed": 0.0,
        "var_place": 0.0,
        "cov": 0.0,
        "var_speed": 0.0,
        "acceleration": 0.0,
        "var_acceleration": 0.0,
    }
    return Axis(**(values | changes))


@pytest.mark.parametrize(
    ("dt", "variance", "expected"),
    # filterpy 2.0 Q_discrete_white_noise: the block of place and speed.
    [(1.0, 1.0, (0.25, 0.5, 1.0)), (0.01, 4.0, (1e-8, 2e-6, 4e-4))],
)
def test_process_noise(dt: float, variance: float, expected: tuple[float, ...]):
    axis = _axis(var_acceleration=variance)
    axis.advance(dt)
    assert (axis.var_place, axis.cov, axis.var_speed) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("index", "alpha", "beta"),
    # Kalata (1984), from memory: r = (4 + L - sqrt(8 L + L²)) / 4, alpha = 1 - r²,
    # beta = 2 (2 - alpha) - 4 sqrt(1 - alpha); scipy's solve_discrete_are gives the same.
    [(1.0, 0.75, 0.5), (0.1, 0.36, 0.08), (2.0, 0.8541020, 0.7639320)],
)
def test_steady_gains_from_the_tracking_index(index: float, alpha: float, beta: float):
    axis = _axis(var_place=100.0, var_speed=100.0, var_acceleration=index**2)
    for _ in range(400):
        axis.advance(1.0)
        gain = 1.0 / (axis.var_place + 1.0)
        found = axis.var_place * gain, axis.cov * gain
        axis.correct(0.0, 1.0)
    assert found == pytest.approx((alpha, beta), abs=1e-6)


def test_a_known_acceleration_is_followed_without_noise():
    axis = _axis(acceleration=9.80665, speed=1.0, var_place=1e-6, var_speed=1e-6)
    axis.advance(0.25)
    assert axis.place == pytest.approx(0.25 + 0.5 * 9.80665 * 0.0625)
    assert axis.speed == pytest.approx(1.0 + 9.80665 * 0.25)


TURNING = (1.0, 0.95, 0.8, 0.6, 0.45, 0.4, 0.45, 0.6, 0.8, 0.95, 1.0)
"""How much of its length a bar shows that turns about one end until it is seen almost end on."""


@pytest.mark.parametrize("across", [False, True], ids=["along", "across"])
def test_a_part_that_turns_is_followed_amid_a_path_known_to_a_tenth_of_a_pixel(across: bool):
    known = model()
    known = replace(known, ahead_px=30.0, behind_px=30.0, breadth_px=60.0, area_px=60.0 * 16.0)
    linker = Linker(WHOLE, replace(known, sigma_shape_px=0.1), surprised=False)
    ended = []
    for k, share in enumerate((*(1.0,) * 2, *TURNING, *(1.0,) * 2)):
        end, length = 80.0 + 25.0 * k, 60.0 * share
        place = (50.0 + length / 2, end) if across else (80.0, end - length / 2)
        size = (length, 16.0) if across else (16.0, length)
        shown = Sighting(index=k, t_ns=round(k * 1e9 / 120), blobs=(blob(*place, *size, VIEW),))
        ended += linker.link(detections(shown, WHOLE, 0))
    (track,) = ended + linker.finish()
    assert len(track.sights) == len(TURNING) + 4
    # Where it is seen whole it is where it was foreseen, and its speed is what it was.
    assert track.along.speed == pytest.approx(3000.0, rel=0.01)
