"""What must hold of spacing for every pour: shifted times, other units, other labels."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pours import LIP, Pour, column, steady

from viscount.measure.heights import Height
from viscount.measure.neighbours import neighbours
from viscount.measure.pour_spacing import At, pour_spacing
from viscount.stream import Poured

heights = st.floats(-80.0, 400.0)
pours = st.builds(
    column,
    st.integers(8, 40),
    pitch=st.floats(3.0, 12.0),
    acceleration=st.floats(800.0, 9000.0),
    jitter_s=st.sampled_from([0.0, 1e-5]),
    seed=st.integers(0, 99),
) | st.builds(steady, st.integers(8, 40), interval_s=st.floats(0.01, 0.1))
LINE = At(name="line", height=Height(below_line=0.0, sigma=0.0, unit="mm"))


def scaled(poured: Poured, factor: float) -> Poured:
    """The same pour with every length in another unit."""
    lengths = (
        "speed",
        "sigma_speed",
        "ahead",
        "behind",
        "sigma_end",
        "acceleration",
        "sigma_acceleration",
    )
    return replace(poured, **{name: factor * getattr(poured, name) for name in lengths})


@given(pour=pours, shift_s=st.floats(-5.0, 1000.0), below=heights)
@settings(max_examples=15, deadline=None)
def test_a_later_pour_is_spaced_the_same(pour: Pour, shift_s: float, below: float) -> None:
    later = replace(pour.poured, t_s=pour.poured.t_s + shift_s)
    now, then = neighbours(pour.poured, below), neighbours(later, below)
    assert then.interval_s == pytest.approx(now.interval_s, abs=1e-9)
    assert then.gap_s == pytest.approx(now.gap_s, abs=1e-9)
    assert then.t_s == pytest.approx(now.t_s + shift_s, abs=1e-9)
    one, two = (
        pour_spacing(
            Pour(
                number=1,
                poured=p,
                parts=pour.parts,
                passages=pour.passages,
                origin=pour.origin,
            ),
            [LINE],
            run=0,
            lip=LIP,
            pitch_mm=5.5,
        )
        for p in (pour.poured, later)
    )
    assert one.beat.rhythm is two.beat.rhythm
    assert [f.part for f in one.faults] == [f.part for f in two.faults]
    if one.profile is not None:
        assert two.profile.k_s == pytest.approx(one.profile.k_s, rel=1e-4)
        assert two.profile.start_s == pytest.approx(one.profile.start_s + shift_s, abs=1e-4)


@given(pour=pours, factor=st.floats(0.5, 20.0), below=heights)
@settings(max_examples=15, deadline=None)
def test_times_know_no_unit_of_length(pour: Pour, factor: float, below: float) -> None:
    """The same pour in px: times and their uncertainties stay, lengths grow by the scale."""
    in_mm = neighbours(pour.poured, below, sigma_height=0.5)
    in_px = neighbours(scaled(pour.poured, factor), factor * below, sigma_height=factor * 0.5)
    for name in ("interval_s", "sigma_interval_s", "gap_s", "sigma_gap_s"):
        assert getattr(in_px, name) == pytest.approx(getattr(in_mm, name), rel=1e-6, abs=1e-12)
    for name in ("spacing", "sigma_spacing", "speed", "sigma_speed"):
        assert getattr(in_px, name) == pytest.approx(factor * getattr(in_mm, name), rel=1e-6)


@given(pour=pours, below=heights)
@settings(max_examples=15, deadline=None)
def test_of_the_other_labels_the_same_pairs(pour: Pour, below: float) -> None:
    """Parts numbered from the last: the same spacing and gaps' uncertainties, backwards."""
    back = {
        name: value[::-1] if isinstance(value := getattr(pour.poured, name), np.ndarray) else value
        for name in Poured.__slots__
    }
    now, then = neighbours(pour.poured, below), neighbours(Poured(**back), below)
    assert then.interval_s[::-1] == pytest.approx(-now.interval_s)
    assert then.spacing[::-1] == pytest.approx(-now.spacing)
    for name in ("sigma_interval_s", "sigma_gap_s", "sigma_spacing"):
        assert getattr(then, name)[::-1] == pytest.approx(getattr(now, name), rel=1e-9)


@given(pour=pours, low=st.floats(0.0, 200.0), more=st.floats(1.0, 200.0))
@settings(max_examples=15, deadline=None)
def test_the_fall_never_makes_an_interval_longer(pour: Pour, low: float, more: float) -> None:
    """Later parts of a column are faster and catch up; equally fast ones keep their interval."""
    above, below = neighbours(pour.poured, low), neighbours(pour.poured, low + more)
    assert (below.interval_s <= above.interval_s + 1e-9).all()
