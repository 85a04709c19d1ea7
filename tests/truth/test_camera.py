"""The simulated camera against facts from outside it."""

import math

import numpy as np
import pytest
from scipy import signal

from viscount.simulate.geometry import upright
from viscount.simulate.light import Lighting, light_at
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import (
    Ball,
    Belt,
    Box,
    Camera,
    Escapement,
    Lanes,
    Light,
    Pulsed,
    Scene,
    Times,
    View,
)

BACKGROUND, PART = 180.0, 60.0


def belt(speed_px_s: float, *, scale: float = 4.0, rows: int = 480, **camera: object) -> Pour:
    """A plate of 32 x 16 px on a belt."""
    return simulate(
        Scene(
            parts=(Box(along_mm=32 / scale, across_mm=16 / scale),),
            release=Times(times_ms=(0.0,)),
            motion=Belt(speed_mm_s=speed_px_s / scale),
            view=View(
                width_px=64,
                height_px=rows,
                scale_px_per_mm=scale,
                lip_px=-40.0,
                line_px=rows / 2,
            ),
            camera=Camera.model_validate(
                {"noise": 0.0, "background_grey": BACKGROUND, "part_grey": PART} | camera
            ),
            lead_in_s=0.0,
        )
    )


def profile(pour: Pour) -> np.ndarray:
    """Cover along the fall, in the middle of the part, of a frame that shows it whole."""
    for time, frame in zip(pour.times, pour.truth.frames, strict=True):
        if frame.seen and frame.seen[0].whole and 100 < frame.seen[0].y_px < 380:
            picture = pour.studio.noiseless(time)
            return np.asarray((BACKGROUND - picture[:, 31]) / (BACKGROUND - PART))
    raise AssertionError("no frame shows the part whole")


@pytest.mark.parametrize(
    ("exposure_us", "blur_mm"), [(50, 0.07), (100, 0.14), (200, 0.28), (500, 0.70), (1000, 1.4)]
)
def test_blur_is_speed_times_exposure(exposure_us: float, blur_mm: float) -> None:
    """1.4 m/s: 0.07 to 1.4 mm (calculated; blur = v x exposure)."""
    scale = 20.0
    cover = profile(belt(1400.0 * scale, scale=scale, rows=480, exposure_us=exposure_us, fps=400.0))
    # A ramp of length b at each end: where it is neither 0 nor 1, less the pixel's own width.
    ramp = ((cover > 1e-3) & (cover < 1 - 1e-3)).sum() / 2
    assert ramp == pytest.approx(blur_mm * scale, abs=2.0)
    assert cover.sum() == pytest.approx(32.0, abs=0.1)


@pytest.mark.parametrize(
    ("speed_px_s", "readout", "factor"),
    [(2000, "down", 1.06780), (5000, "down", 1.18870), (5000, "up", 0.86300)],
)
def test_rolling_shutter_stretches(speed_px_s: float, readout: str, factor: float) -> None:
    """1 / (1 - v t_row) with rows of 31.749 us: 1.06780, 1.18870, 0.86300 (calculated)."""
    camera = {"fps": 60.0, "readout": readout, "line_time_us": 31.749, "exposure_us": 1.0}
    cover = profile(belt(speed_px_s, **camera))
    assert cover.sum() == pytest.approx(32.0 * factor, abs=0.1)


@pytest.mark.parametrize(
    ("line_us", "hz", "rows"),
    [
        (31.7488, 100.0, 315.0),
        (18.9035, 100.0, 529.0),
        (26.2903, 100.0, 380.4),
        (31.7488, 120.0, 262.5),
        (18.9035, 120.0, 440.8),
        (26.2903, 120.0, 317.0),
    ],
)
def test_bands_of_mains_light(line_us: float, hz: float, rows: float) -> None:
    """Rows from band to band: 1 / (2 f_mains t_row).

    Line times of the OV5647 at 640x480, the IMX219 and the IMX708, from their Linux drivers'
    line lengths and pixel rates; "about 120 Hz, about 317 rows" is in a public note too.
    """
    scene = Scene(
        parts=(Ball(diameter_mm=4.0),),
        release=Escapement(count=0, interval_ms=9.0),
        view=View(width_px=4, height_px=8000),
        camera=Camera(fps=2.0, readout="down", line_time_us=line_us, exposure_us=100.0),
        light=Light(flicker_percent=10.0, flicker_hz=hz),
    )
    level = Lighting(scene.light, upright(scene)).level(0.0, 1e-4)[:, 0].astype(float)
    spectrum = np.abs(np.fft.rfft((level - level.mean()) * np.hanning(8000), 8 * 8000))
    assert 8 * 8000 / spectrum.argmax() == pytest.approx(rows, rel=0.005)


@pytest.mark.parametrize(
    ("fps", "flicker_hz", "alias_hz"), [(90, 100, 10), (60, 100, 20), (30, 120, 0)]
)
def test_what_is_left_of_flicker_at_a_frame_rate(
    fps: float, flicker_hz: float, alias_hz: float
) -> None:
    """90 frames a second in 100 Hz light: 10 Hz; 60 in 100: 20 Hz; 30 in 120: none."""
    scene = Scene(
        parts=(Ball(diameter_mm=4.0),),
        release=Escapement(count=0, interval_ms=9.0),
        view=View(width_px=4, height_px=4),
        camera=Camera(fps=fps, exposure_us=100.0),
        light=Light(flicker_percent=10.0, flicker_hz=flicker_hz),
    )
    lighting = Lighting(scene.light, upright(scene))
    level = np.array([lighting.level((k + 0.3) / fps, 1e-4)[0, 0] for k in range(360)])
    if not alias_hz:
        assert np.ptp(level) < 1e-3
        return
    spectrum = np.abs(np.fft.rfft(level - level.mean()))
    assert spectrum.argmax() * fps / 360 == pytest.approx(alias_hz, abs=0.3)


@pytest.mark.parametrize("duty", [0.1, 0.4, 0.85])
@pytest.mark.parametrize("exposure_us", [30.0, 500.0, 3300.0])
def test_pulsed_light_is_the_mean_of_a_square_wave(duty: float, exposure_us: float) -> None:
    """scipy.signal.square, "duty cycle": 1 from 0 to 2 pi duty, then -1; integrated by sums."""
    light = Light(pulsed=Pulsed(hz=490.0, duty=duty, depth_percent=80.0))
    for middle_s in np.linspace(0.0, 0.01, 7):
        moments = middle_s + exposure_us * 1e-6 * ((np.arange(40_000) + 0.5) / 40_000 - 0.5)
        lit = (signal.square(2 * np.pi * 490.0 * moments, duty).mean() + 1) / 2
        found = float(light_at(light, np.array(middle_s), exposure_us * 1e-6))
        assert found == pytest.approx(0.2 + 0.8 * lit / duty, abs=2e-3)


def test_pinhole() -> None:
    """A pinhole camera: size = scale x distance / (distance - depth), plane geometry."""
    view = View(width_px=200, height_px=200, scale_px_per_mm=4.0, distance_mm=100.0)
    up = upright(
        Scene(
            parts=(Ball(diameter_mm=4.0),),
            release=Escapement(count=1, interval_ms=9.0),
            view=view,
        )
    )
    middle = up.middle_along
    assert up.scale_at(middle, 0.0, 20.0) == pytest.approx(4.0 * 100 / 80)
    row, column = up.place(middle + 10.0, 5.0, -25.0)
    assert row - 99.5 == pytest.approx(40.0 * 100 / 125)
    assert column - 99.5 == pytest.approx(20.0 * 100 / 125)


@pytest.mark.parametrize("tilt_deg", [-10.0, 5.0, 20.0])
def test_tilted_pinhole(tilt_deg: float) -> None:
    """Rotate, then divide by the distance along the axis; and the lip stays where it is said."""
    view = View(
        width_px=200, height_px=200, lip_px=-30.0, distance_mm=150.0, tilt_deg=tilt_deg, roll_deg=3
    )
    up = upright(
        Scene(
            parts=(Ball(diameter_mm=4.0),),
            release=Escapement(count=1, interval_ms=9.0),
            view=view.model_copy(update={"roll_deg": 0.0}),
        )
    )
    assert up.place(0.0, 0.0)[0] == pytest.approx(-30.0)
    assert up.along_mm(-30.0) == pytest.approx(0.0)
    t = math.radians(tilt_deg)
    away = up.middle_along + 12.0
    down, beyond = 12.0 * math.cos(t), 12.0 * math.sin(t)
    expected = 99.5 + 4.0 * down * 150 / (150 + beyond)
    assert up.place(away, 0.0)[0] == pytest.approx(expected)


def test_nearer_parts_hide_farther_ones() -> None:
    scene = Scene(
        parts=(
            Box(along_mm=8.0, across_mm=4.0, grey=40.0),
            Box(along_mm=8.0, across_mm=8.0, grey=100.0),
        ),
        release=Times(times_ms=(0.0, 0.0)),
        motion=Belt(speed_mm_s=500.0),
        lanes=Lanes(depth_spread_mm=3.0),
        view=View(width_px=64, height_px=160, lip_px=-20.0, line_px=80.0),
        camera=Camera(noise=0.0, exposure_us=1.0),
        lead_in_s=0.0,
    )
    told = set()
    for seed in range(6):
        pour = simulate(scene.model_copy(update={"seed": seed}))
        frame = next(
            k for k, f in enumerate(pour.truth.frames) if len(f.seen) == 2 and f.seen[0].whole
        )
        seen = pour.truth.frames[frame].seen
        picture = pour.studio.noiseless(pour.times[frame])
        middle = picture[round(seen[0].y_px), 31]
        if middle == pytest.approx(40.0):
            assert seen[0].visible == pytest.approx(1.0)
            assert seen[1].visible == pytest.approx(0.5, abs=0.02)
            told.add("narrow in front")
        else:
            assert middle == pytest.approx(100.0)
            assert seen[0].visible == pytest.approx(0.0, abs=0.05)
            told.add("broad in front")
    assert len(told) == 2


@pytest.mark.parametrize(("readout_ms", "distance_px"), [(16.0, 426.7), (14.0, 349.1)])
def test_distance_of_two_parts_within_one_frame(readout_ms: float, distance_px: float) -> None:
    """480 rows over 50 mm read in 16 ms, parts at 2 m/s every 8 ms: 16 mm or 153.6 px apart.

    Within one frame that are 153.6 / (1 - v / R) px, with v = 19 200 px/s and R rows a second:
    426.7 px, as if they were 44.4 mm apart (calculated).
    """
    scene = Scene(
        parts=(Box(along_mm=2.0, across_mm=2.0),),
        release=Times(times_ms=(0.0, 8.0, 16.0, 24.0)),
        motion=Belt(speed_mm_s=2000.0),
        view=View(width_px=40, height_px=480, scale_px_per_mm=9.6, lip_px=-20.0, line_px=240.0),
        camera=Camera(
            fps=40.0,
            readout="down",
            line_time_us=readout_ms * 1e3 / 480,
            exposure_us=1.0,
            noise=0.0,
        ),
        lead_in_s=0.0,
    )
    pour = simulate(scene)
    apart = [
        abs(frame.seen[0].y_px - frame.seen[1].y_px)
        for frame in pour.truth.frames
        if len(frame.seen) == 2
    ]
    assert apart
    assert apart == pytest.approx([distance_px] * len(apart), abs=0.1)
