"""The readout's stretch tells the line time, and ways to it are settled."""

import numpy as np
import pytest

from viscount.codes import Code
from viscount.measure.line_time.by_fall import line_time_by_fall
from viscount.measure.line_time.estimate import LineBy, LineTime, settled
from viscount.measure.scale.budget import Budget, Input
from viscount.measure.scale.extent import Extent
from viscount.measure.scale.part_size import Sized
from viscount.values import Falls


def parts(line_s: float, *, n: int = 8, noise: float = 0.0) -> list[Sized]:
    rng = np.random.default_rng(1)
    made = []
    for _ in range(n):
        speeds = np.linspace(3000.0, 5000.0, 7)
        along = 64.0 / (1 - speeds * line_s) + noise * rng.normal(size=7)
        extents = tuple(
            Extent(along=float(a), across=20.0, major=float(a), minor=20.0, smear=0.0)
            for a in along
        )
        made.append(Sized(extents=extents, speeds_px_s=tuple(speeds.tolist())))
    return made


@pytest.mark.parametrize("us", [-60.0, 0.0, 31.749])
def test_the_stretch_tells_it(us: float):
    found = line_time_by_fall(parts(1e-6 * us), growth_u=0.02, source="x")
    assert found is not None
    assert found.seconds == pytest.approx(1e-6 * us, abs=1e-10)
    # 2 % of growth over what 2000 px/s gain.
    assert found.budget.u == pytest.approx(0.02 / 2000.0, rel=0.01)


def test_its_interval_holds_it_in_noise():
    found = line_time_by_fall(parts(20e-6, noise=0.3), growth_u=1e-9, source="x")
    assert found is not None
    assert found.seconds is not None
    assert abs(found.seconds - 20e-6) < 1.5 * found.budget.expanded < 6e-6


def test_too_few_parts_tell_nothing():
    assert line_time_by_fall(parts(20e-6, n=3), growth_u=0.02, source="x") is None
    even = [Sized(extents=p.extents, speeds_px_s=(4000.0,) * 7) for p in parts(0.0)]
    assert line_time_by_fall(even, growth_u=0.02, source="x") is None


def way(by: LineBy, us: float | None, u_us: float, readout: Falls | None = None) -> LineTime:
    budget = Budget(inputs=(Input(name="all", u=1e-6 * u_us),))
    seconds = None if us is None else 1e-6 * us
    return LineTime(by=by, source="", seconds=seconds, budget=budget, what="", readout=readout)


def test_the_surest_is_taken():
    ways = [way(LineBy.SENSOR, 18.9, 0.02), way(LineBy.BANDS, 18.85, 0.1, Falls.DOWN)]
    found, notices = settled(ways, Falls.DOWN, None)
    assert found is ways[0]
    assert notices == ()


def test_ways_that_disagree_give_none():
    ways = [way(LineBy.SENSOR, 18.9, 0.02), way(LineBy.BANDS, 20.0, 0.1, Falls.DOWN)]
    found, (notice,) = settled(ways, Falls.DOWN, None)
    assert found is None
    assert notice.code is Code.LINE_TIMES_DISAGREE


@pytest.mark.parametrize(
    ("readout", "falls", "along", "fits"),
    [
        (Falls.DOWN, Falls.DOWN, 30.0, True),
        (Falls.UP, Falls.DOWN, 30.0, False),
        (Falls.UP, Falls.DOWN, -30.0, True),
        (Falls.RIGHT, Falls.DOWN, 0.0, True),
        (Falls.RIGHT, Falls.DOWN, 30.0, False),
        (Falls.LEFT, Falls.LEFT, 30.0, True),
    ],
)
def test_the_fall_checks_where_the_lines_run(
    readout: Falls, falls: Falls, along: float, fits: bool
):
    ways = [way(LineBy.BANDS, 30.0, 0.1, readout), way(LineBy.FALL, along, 5.0)]
    found, notices = settled(ways, falls, None)
    assert (found is ways[0]) is fits
    assert bool(notices) is not fits


def test_the_fall_alone_is_no_measure():
    assert settled([way(LineBy.FALL, 30.0, 5.0)], Falls.DOWN, None) == (None, ())
