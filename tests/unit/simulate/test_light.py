"""The light on each line, against numbers added up by brute force."""

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.light import Lighting, light_at
from viscount.simulate.scene import (
    AutoExposure,
    Ball,
    Camera,
    Escapement,
    Light,
    Pulsed,
    Scene,
    Step,
    View,
)


def level(light: Light, t_s: float, exposure_s: float) -> float:
    return float(light_at(light, np.array(t_s), exposure_s))


def added_up(light: Light, t_s: float, exposure_s: float) -> float:
    """The mean of the light over the exposure, from many short ones."""
    moments = t_s + exposure_s * ((np.arange(20_000) + 0.5) / 20_000 - 0.5)
    return float(light_at(light, moments, 0.0).mean())


@pytest.mark.parametrize(
    "light",
    [
        Light(flicker_percent=10.0, flicker_hz=100.0),
        Light(pulsed=Pulsed(hz=1010.0, duty=0.4)),
        Light(pulsed=Pulsed(hz=200.0, duty=0.1, depth_percent=60.0)),
        Light(steps=(Step(at_s=0.0123, percent=-30.0),)),
    ],
)
@pytest.mark.parametrize("exposure_s", [1e-4, 1e-3, 0.0071])
def test_an_exposure_is_the_mean_of_what_it_sees(light: Light, exposure_s: float) -> None:
    for t_s in (0.0, 0.0031, 0.0121, 0.5):
        assert level(light, t_s, exposure_s) == pytest.approx(
            added_up(light, t_s, exposure_s), abs=1e-3
        )


@pytest.mark.parametrize("periods", [1, 2, 3])
def test_whole_periods_see_no_flicker(periods: int) -> None:
    """Exposures of 10, 20 and 30 ms at 50 Hz mains (common practice, no source)."""
    light = Light(flicker_percent=10.0, flicker_hz=100.0)
    seen = light_at(light, np.linspace(0.0, 0.1, 50), periods * 0.01)
    assert seen == pytest.approx(np.ones(50), abs=1e-9)


def test_a_pulsed_lamp_keeps_its_mean() -> None:
    for pulsed in (Pulsed(hz=300.0, duty=0.2), Pulsed(hz=300.0, duty=0.7, depth_percent=50.0)):
        seen = light_at(Light(pulsed=pulsed), np.linspace(0.0, 1.0, 30_001)[:-1], 0.0)
        assert seen.mean() == pytest.approx(1.0, abs=1e-3)
        assert seen.max() > 1.1


def test_drift_and_steps_add_up() -> None:
    light = Light(drift_percent_per_s=-10.0, steps=(Step(at_s=1.0, percent=50.0),))
    assert level(light, 0.5, 1e-4) == pytest.approx(0.95)
    assert level(light, 2.0, 1e-4) == pytest.approx(0.8 * 1.5)
    assert level(light, 20.0, 1e-4) == 0.0


def scene(**light: object) -> Scene:
    return Scene(
        parts=(Ball(diameter_mm=4.0),),
        release=Escapement(count=1, interval_ms=9.0),
        view=View(width_px=32, height_px=640),
        camera=Camera(fps=60.0, readout="down", line_time_us=20.0),
        light=Light.model_validate(light),
    )


def test_each_line_has_the_light_of_its_own_time() -> None:
    made = scene(flicker_percent=10.0, flicker_hz=100.0)
    seen = Lighting(made.light, upright(made)).level(0.3, 1e-4)
    assert seen.shape == (640, 1)
    expected = light_at(made.light, 0.3 + 20e-6 * np.arange(640), 1e-4)
    assert seen[:, 0] == pytest.approx(expected, abs=1e-6)


def test_a_readout_across_the_fall_gives_each_column_its_own_time() -> None:
    made = scene(flicker_percent=10.0, flicker_hz=100.0)
    for readout, first in (("right", 0), ("left", 31)):
        camera = made.camera.model_copy(update={"readout": readout})
        turned = made.model_copy(update={"camera": camera})
        seen = Lighting(made.light, upright(turned)).level(0.3, 1e-4)
        assert seen.shape == (1, 32)
        lines = np.abs(np.arange(32) - first)
        expected = light_at(made.light, 0.3 + 20e-6 * lines, 1e-4)
        assert seen[0] == pytest.approx(expected, abs=1e-6)


def test_steady_light_is_known_to_be() -> None:
    up = upright(scene())
    assert Lighting(Light(), up).steady
    assert Lighting(Light(auto_exposure=AutoExposure()), up).steady
    assert not Lighting(Light(drift_percent_per_s=1.0), up).steady
