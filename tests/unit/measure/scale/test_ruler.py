"""The scale by a drawn ruler."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.scale.ruler import by_ruler

FINE = 8


def ruler(
    scale: float,
    *,
    growth: float = 0.0,
    phase: float = 0.3,
    height: int = 480,
    noise: float = 3.0,
    light: bool = False,
    seed: int = 2,
) -> NDArray[np.uint8]:
    """Return a ruler with longer ticks at 5 and 10, its light uneven; `growth` of the scale over
    the picture, from its middle."""
    z = np.arange(height * FINE) / FINE - height / 2
    k = growth / height
    mm = (np.log1p(k * z) / k if growth else z) / scale
    number = np.floor(mm + phase)
    tick = mm + phase - number < 0.2
    length = np.where(number % 10 == 0, 120, np.where(number % 5 == 0, 90, 60))
    picture = np.full((height * FINE, 160), 60.0 if light else 200.0)
    columns = np.arange(160)
    drawn = tick[:, None] & (length[:, None] > columns)
    picture[drawn] = 200.0 if light else 60.0
    picture = picture.reshape(height, FINE, 160).mean(axis=1)
    picture *= 1 + 0.2 * np.linspace(-1, 1, height)[:, None]
    picture += noise * np.random.default_rng(seed).normal(size=picture.shape)
    return picture.clip(0, 255).astype(np.uint8)


@settings(max_examples=25, deadline=None)
@given(
    scale=st.floats(3.2, 40.0),
    phase=st.floats(0.0, 0.99),
    growth=st.sampled_from([0.0, 0.08, -0.08]),
)
def test_any_pitch_and_place(scale: float, phase: float, growth: float):
    way = by_ruler(ruler(scale, phase=phase, growth=growth), 1.0, middle_px=239.5, source="x")
    assert way.value is not None
    # A share of a tick's own place, and the slope's change over half a px.
    assert way.value == pytest.approx(scale, rel=3e-3)
    assert way.change == pytest.approx(growth, abs=0.012)
    assert abs(way.value - scale) < way.budget.expanded


def test_light_ticks_on_a_dark_ruler():
    way = by_ruler(ruler(9.7, light=True), 1.0, middle_px=239.5, source="x")
    assert way.value == pytest.approx(9.7, rel=2e-3)


def test_half_millimetres():
    way = by_ruler(ruler(12.0), 0.5, middle_px=239.5, source="x")
    assert way.value == pytest.approx(24.0, rel=2e-3)
    assert "0.5 mm apart" in way.what


def test_a_changing_scale_is_told():
    way = by_ruler(ruler(8.0, growth=0.1), 1.0, middle_px=239.5, source="x")
    assert [notice.code for notice in way.notices] == [Code.SCALE_VARIES]
    assert by_ruler(ruler(8.0), 1.0, middle_px=239.5, source="x").notices == ()


def test_ticks_that_are_missing_do_not_shift_the_rest():
    picture = ruler(10.0, phase=0.0)
    picture[200:236] = 180
    way = by_ruler(picture, 1.0, middle_px=239.5, source="x")
    assert way.value == pytest.approx(10.0, rel=3e-3)


@pytest.mark.parametrize("kind", ["noise", "even", "small"])
def test_no_ruler(kind: str):
    rng = np.random.default_rng(3)
    picture = {
        "noise": rng.integers(60, 200, (480, 160)).astype(np.uint8),
        "even": np.full((480, 160), 120, np.uint8),
        "small": np.full((9, 9), 120, np.uint8),
    }[kind]
    way = by_ruler(picture, 1.0, middle_px=240.0, source="x")
    assert way.value is None
    assert [notice.code for notice in way.notices] == [Code.NO_TICKS]
