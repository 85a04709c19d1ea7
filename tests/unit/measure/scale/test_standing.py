"""Patterns that nearly stand still, and the scale by gravity of them."""

import math
from itertools import pairwise

import numpy as np
import pytest
from falls import G

from viscount.codes import Code
from viscount.measure.scale.gravity import STANDING, Circumstances, by_gravity
from viscount.measure.scale.paths import Fallen, Prior, fit_paths
from viscount.measure.scale.standing import Seen, rows_of
from viscount.values import Level

FRAME_S = 1.0 / 120.0
SCALE = 3.0
AROUND = Circumstances(view_px=240.0, picture_px=240.0)


def stream(
    *,
    every_s: float,
    jitter_s: float = 0.0,
    lag: float = 0.0,
    seed: int = 1,
) -> list[Fallen]:
    """Return 40 parts that are 2.2 m/s fast in the middle of the view.

    In each picture a place is off by `lag` px for so much as the pattern moves on there.
    """
    rng = np.random.default_rng(seed)
    parts = []
    for k in range(40):
        start = k * every_s + jitter_s * rng.normal()
        frames = np.arange(np.ceil((start - 0.05) / FRAME_S), (start + 0.05) / FRAME_S) * FRAME_S
        t = frames - start
        y = SCALE * (2200.0 + 0.5 * G * t) * t
        # A motion vector is a whole number of quarter pixels; what it leaves is left out.
        moves = SCALE * (2200.0 + G * t) * (FRAME_S - every_s)
        y = y + lag * (moves - np.rint(4.0 * moves) / 4.0) + 0.02 * rng.normal(size=t.size)
        seen = np.abs(y) < 112.0
        parts.append(Fallen(t_s=frames[seen], y_px=y[seen], sigma_px=np.full(seen.sum(), 0.01)))
    return parts


def rows(parts: list[Fallen]) -> tuple[Seen, np.ndarray]:
    t_s = np.concatenate([part.t_s for part in parts])
    order = np.argsort(t_s, kind="stable")
    number = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    seen = Seen(
        t_s=t_s[order], y_px=np.concatenate([p.y_px for p in parts])[order], part=number[order]
    )
    return seen, rows_of(seen, FRAME_S)


def test_rows_are_of_other_parts_frame_by_frame():
    seen, row = rows(stream(every_s=0.008))
    assert np.mean(row >= 0) > 0.9
    for one in np.unique(row[row >= 0]):
        own = row == one
        assert np.unique(seen.part[own]).size == own.sum()
        for a, b in pairwise(np.flatnonzero(own)):
            assert seen.t_s[b] - seen.t_s[a] == pytest.approx(FRAME_S)
            assert 1.0 < seen.y_px[b] - seen.y_px[a] < 3.5


@pytest.mark.parametrize(
    "kind",
    [
        {"every_s": 0.010},
        {"every_s": 0.050},
        {"every_s": 0.008, "jitter_s": 0.001},
    ],
)
def test_other_streams_have_none_to_speak_of(kind: dict[str, float]):
    _, row = rows(stream(**kind))
    assert np.mean(row >= 0) < 0.25


def test_one_part_is_no_row_however_slow():
    part = Fallen(
        t_s=np.arange(40) * FRAME_S, y_px=2.0 * np.arange(40.0), sigma_px=np.full(40, 0.1)
    )
    _, row = rows([part])
    assert np.all(row < 0)


@pytest.mark.parametrize("seed", range(4))
def test_a_scale_that_hangs_on_it_is_doubted_or_refused(seed: int):
    way = by_gravity(stream(every_s=0.008, lag=0.5, seed=seed), AROUND, source="clip")
    said = {notice.code: notice for notice in way.notices}
    assert said[Code.PATTERN_STANDS].level is Level.DOUBT
    assert "where the one before it was" in said[Code.PATTERN_STANDS].text
    if way.value is not None:
        assert abs(way.value - SCALE) <= way.budget.expanded


def test_its_share_does_not_shrink_with_the_number_of_parts():
    prior = Prior(drag_per_px=1e-5, drag_u=1e-6, growth_per_px=0.0, growth_u=1.5e-4)
    stands, moves = (stream(every_s=every_s) for every_s in (0.0083, 0.0717))

    def sigma(parts: list[Fallen]) -> tuple[float, float]:
        found = fit_paths(parts, prior, start=SCALE * G)
        own = found.by_standing[0, 0]
        return math.sqrt(own) / (SCALE * G), math.sqrt(found.covariance[0, 0] - own) / (SCALE * G)

    assert sigma(stands)[0] > 0.9 * sigma(stands[:20])[0] > 0.1
    assert sigma(moves)[0] == 0.0
    assert sigma(moves)[1] < 0.9 * sigma(moves[:20])[1]


def test_parts_that_come_one_by_one_have_no_such_share():
    way = by_gravity(stream(every_s=0.0717, jitter_s=0.004), AROUND, source="clip")
    assert [one.u for one in way.budget.inputs if one.name == STANDING] == [0.0]
    assert Code.PATTERN_STANDS not in [notice.code for notice in way.notices]
