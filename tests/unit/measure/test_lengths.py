"""Lengths of parts, without what the camera adds."""

from dataclasses import replace

import numpy as np
import pytest
from counting import outlet
from tallies import passage

from viscount.measure.lengths import EDGE_PX, P10_TO_P90, SHOWN_SMEAR, lengths_of
from viscount.values import Passage

SHARP = {"exposure_us": 0.001}


def seen(*lengths: float | None, speed: float = 6000.0) -> list[Passage]:
    return [
        passage(k, 0.5, length_px=length, speed_px_s=speed).passage
        for k, length in enumerate(lengths)
    ]


@pytest.mark.parametrize(
    ("readout", "speed", "factor"),
    [("down", 2000.0, 1.06780), ("down", 5000.0, 1.18870), ("up", 5000.0, 0.86300)],
)
def test_a_readout_along_the_fall_is_taken_out(readout: str, speed: float, factor: float) -> None:
    """31.749 µs from line to line (calculated: 1 / (1 - v t))."""
    made = outlet(camera={"line_time_us": 31.749, "readout": readout, **SHARP})
    found = lengths_of(seen(100.0 * factor, speed=speed), made, None)
    assert found.px[0] == pytest.approx(100.0 - EDGE_PX, abs=2e-3)


@pytest.mark.parametrize("readout", ["left", "right", "global"])
def test_a_readout_across_the_fall_changes_no_length(readout: str) -> None:
    time = 0.0 if readout == "global" else 31.749
    made = outlet(camera={"line_time_us": time, "readout": readout, **SHARP})
    assert lengths_of(seen(100.0), made, None).px[0] == pytest.approx(100.0 - EDGE_PX, abs=1e-3)


def test_blur_is_speed_times_exposure() -> None:
    """1.4 m/s and 500 µs: 0.7 mm (calculated), most of which shows."""
    made = outlet(camera={"exposure_us": 500.0}, view={"scale_px_per_mm": 4.0})
    found = lengths_of(seen(40.0, speed=5600.0), made, 4.0)
    assert (40.0 - EDGE_PX - found.px[0]) / 4.0 == pytest.approx(SHOWN_SMEAR * 0.7)


def test_an_exposure_that_nobody_stated_makes_lengths_less_sure() -> None:
    stated, unstated = (lengths_of(seen(40.0), o, None) for o in (outlet(camera=SHARP), outlet()))
    assert unstated.sigma_px > stated.sigma_px > 0.0


def test_the_usual_is_that_of_single_parts() -> None:
    clump = replace(passage(9, 0.5, length_px=90.0).passage, parts=2)
    found = lengths_of([*seen(30.0, 32.0, 34.0, None), clump], outlet(camera=SHARP), None)
    assert found.usual_px == pytest.approx(32.0 - EDGE_PX, abs=0.01)
    seen_px = np.array([30.0, 32.0, 34.0, 32.0, 90.0])
    assert found.px == pytest.approx(seen_px - EDGE_PX, abs=0.01)
    assert found.spread_px == pytest.approx(3.2 / P10_TO_P90)
    many = lengths_of(
        seen(*(60.0 + 3.0 * np.random.default_rng(1).normal(size=2000))),
        outlet(camera=SHARP),
        None,
    )
    assert many.spread_px == pytest.approx(3.0, rel=0.06)


def test_what_nothing_tells_is_unknown() -> None:
    assert np.isnan(lengths_of(seen(None), outlet(), 4.0).px).all()
    described = outlet(part={"along_fall_mm": 16.0})
    assert lengths_of(seen(None), described, 4.0).px == pytest.approx([64.0])
    assert np.isnan(lengths_of(seen(None), described, None).px).all()
    assert not lengths_of([], outlet(), 4.0).px.size
