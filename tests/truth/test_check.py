"""A look at small pours that hold one fault each: it is named, and only it.

The scenes are drawn by the pour simulator, which shares no formula with what is judged. Facts
from outside are named beside their tests.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from viscount.checking.check import check
from viscount.checking.examined import Examined
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.outlet import Outlet, load_outlet
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import Scene, load_scene
from viscount.values import Status

SCENES = Path(__file__).parents[2] / "fixtures" / "scenes"
G_PX_S2 = 4 * 9806.65

Look = Callable[..., Examined]


def scene(**sections: Any) -> Scene:
    """Four M4 screws, well apart, in steady light; whatever is named changed."""
    plain: dict[str, Any] = {
        "seed": 3,
        "parts": [{"standard": "ISO 4762 M4x12"}],
        "release": {"kind": "escapement", "count": 4, "interval_ms": 40.0, "jitter_ms": 1.0},
        "lip_speed_mm_s": 400.0,
        "view": {"width_px": 80, "height_px": 256, "lip_px": -80.0, "line_px": 140.0},
        "camera": {"fps": 120.0, "exposure_us": 150.0, "blur_px": 0.6},
        "lead_in_s": 0.3,
        "tail_s": 0.05,
    }
    for name, section in sections.items():
        both = isinstance(section, dict) and name in ("view", "camera")
        plain[name] = plain[name] | section if both else section
    return Scene.model_validate(plain)


@pytest.fixture(scope="module")
def registry() -> Registry:
    return load_plugins()


@pytest.fixture
def look(tmp_path: Path, registry: Registry) -> Look:
    """Return a function that draws a scene and looks at its clip."""

    def looked(
        changed: Callable[[Outlet], Outlet] = lambda outlet: outlet, **sections: Any
    ) -> Examined:
        written = write_pour(scene(**sections), tmp_path)
        return check(written.clip, outlet=changed(load_outlet(written.outlet)), registry=registry)

    return looked


def codes(examined: Examined) -> list[str]:
    return [one.code.code for one in examined.findings]


TEXTURE = {"texture": {"contrast": 10.0}}
PULSED = {"pulsed": {"hz": 1010.0, "depth_percent": 20.0}}
ONE = {"kind": "times", "times_ms": [0.0]}

HEALTHY: dict[str, dict[str, Any]] = {
    "screws": {},
    "balls": {"parts": [{"shape": "ball", "diameter_mm": 6.0}]},
    "tumbling": {"turning": {"spin_spread_deg_s": 500.0, "tumble_spread_deg_s": 500.0}},
    "to the left": {
        "view": {
            "width_px": 256,
            "height_px": 80,
            "lip_px": 335.0,
            "line_px": 115.0,
            "falls": "left",
        }
    },
    "uneven background": {"surroundings": TEXTURE},
    "half a percent of flicker": {"light": {"flicker_percent": 0.5}},
    "times to a millisecond": {"recording": {"rounded_to_us": 1000.0}},
    "readout across": {"camera": {"readout": "right", "line_time_us": 40.0}},
    "readout with the fall": {"camera": {"readout": "down", "line_time_us": 20.0}},
}


@pytest.mark.parametrize("sections", HEALTHY.values(), ids=HEALTHY)
def test_a_healthy_clip_gives_no_finding(look: Look, sections: dict[str, Any]) -> None:
    examined = look(**sections)
    assert codes(examined) == []
    assert examined.summary == "nothing found that would spoil a count"


FAULTS: dict[str, tuple[str, dict[str, Any]]] = {
    "mains": ("light_flickers", {"light": {"flicker_percent": 4.0, "flicker_hz": 100.0}}),
    "mains in bands": (
        "light_flickers",
        {
            "light": {"flicker_percent": 6.0, "flicker_hz": 120.0},
            "camera": {"fps": 100.0, "readout": "down", "line_time_us": 30.0},
        },
    ),
    "pulsed": ("light_pulsed", {"light": PULSED}),
    "step": ("light_changed", {"light": {"steps": [{"at_s": 0.2, "percent": 20.0}]}}),
    "drift": ("light_drifts", {"light": {"drift_percent_per_s": -9.0}}),
    "its own exposure": (
        "light_changed",
        {
            "light": {
                "steps": [{"at_s": 0.2, "percent": -50.0}],
                "auto_exposure": {"time_constant_s": 0.05},
            },
            "camera": {"exposure_us": 5000.0},
            "release": {"kind": "escapement", "count": 4, "interval_ms": 90.0},
        },
    ),
    "late": ("times_late", {"recording": {"late_ms": 1.5}}),
    "torn": ("frames_torn", {"recording": {"faults": {"torn": [54, 57]}}}),
    "a hand": (
        "large_in_view",
        {
            "surroundings": {
                "intruders": [
                    {
                        "kind": "hand",
                        "from_s": 0.1,
                        "until_s": 0.4,
                        "size_px": 90.0,
                        "along_px": 120.0,
                    }
                ]
            }
        },
    ),
    "lost": ("frames_lost", {"recording": {"faults": {"dropped": [20, 44, 45]}}}),
    "repeated": ("frames_repeated", {"recording": {"faults": {"repeated": [46, 51, 52]}}}),
    "damaged": ("frames_damaged", {"recording": {"faults": {"damaged": [40]}}}),
    "wandering": ("clock_varies", {"recording": {"wander_percent": 8.0}}),
    "faint": ("contrast_low", {"camera": {"background_grey": 120.0, "part_grey": 107.0}}),
    "noisy": ("picture_noisy", {"camera": {"noise": 6.0}}),
    "hidden in noise": (
        "picture_noisy",
        {"camera": {"noise": 6.0, "background_grey": 120.0, "part_grey": 112.0}},
    ),
    "line near edge": ("line_near_edge", {"view": {"line_px": 244.0}}),
    "blurred": (
        "motion_blurred",
        {
            "camera": {"exposure_us": 5000.0},
            "release": {"kind": "escapement", "count": 6, "interval_ms": 22.0},
        },
    ),
    "blurred together": (
        "motion_blurred",
        {
            "camera": {"exposure_us": 5500.0},
            "release": {"kind": "escapement", "count": 12, "interval_ms": 13.0},
        },
    ),
    "shaking": (
        "camera_shakes",
        {"surroundings": TEXTURE | {"feeder": {"hz": 33.0, "amplitude_px": 0.5}}},
    ),
    "a blow": (
        "camera_shakes",
        {"surroundings": TEXTURE | {"blows": [{"at_s": 0.5, "amplitude_px": 4.0, "hz": 47.0}]}},
    ),
    "creeping background": (
        "background_moves",
        {"surroundings": {"texture": {"contrast": 10.0, "speed_px_s": 40.0}}},
    ),
    "too few sightings": ("too_few_sightings", {"camera": {"fps": 25.0}}),
    "keeping pace": (
        "readout_keeps_pace",
        {
            "camera": {"fps": 30.0, "readout": "down", "line_time_us": 95.0},
            "lip_speed_mm_s": 1300.0,
            "release": {"kind": "escapement", "count": 8, "interval_ms": 110.0, "jitter_ms": 2.0},
        },
    ),
    "dust": ("specks_in_view", {"surroundings": {"dust": {"count": 12}}}),
    "a part at rest": (
        "part_at_rest",
        {"surroundings": {"resting": [{"along_px": 200.0, "across_px": 16.0, "until_s": 99.0}]}},
    ),
}


@pytest.mark.parametrize(("code", "sections"), FAULTS.values(), ids=FAULTS)
def test_it_names_the_fault_and_only_it(look: Look, code: str, sections: dict[str, Any]) -> None:
    examined = look(**sections)
    assert codes(examined) == [code]
    (finding,) = examined.findings
    assert any(sign.isdigit() for sign in finding.found)
    impossible = code == "readout_keeps_pace" or "run into one another" in finding.found
    assert (examined.status is Status.INVALID) == impossible


READY: dict[str, set[str]] = {
    "bag-sways": set(),
    "column-60-30": {"too_few_sightings"},
    "damaged-frames": {"frames_damaged"},
    "hand": {"large_in_view"},
    "hand-in-pour": {"large_in_view"},
    "hidden-by-noise": {"picture_noisy"},
    "insect": {"specks_in_view"},
    "late-times": {"times_late"},
    "line-near-edge": {"line_near_edge"},
    "lost-frames-here-and-there": {"frames_lost"},
    "mains-flicker": {"light_flickers"},
    "mid-stream": {"no_background"},
    "readout-too-fast": {"readout_keeps_pace"},
    "repeated-frames": {"frames_repeated"},
    "stuck-part": {"part_stuck"},
    "torn-frames": {"frames_torn"},
    # Nothing is wrong with these.
    "plain": set(),
    "pairs-beside": set(),
    "stream-ratio-1": set(),
}
"""Ready scenes that hold one fault each, or none; other faults are among the small pours above."""


@pytest.mark.parametrize(("name", "codes_meant"), READY.items(), ids=READY)
def test_a_ready_scene_gives_its_one_fault(
    name: str, codes_meant: set[str], tmp_path: Path, registry: Registry
) -> None:
    written = write_pour(load_scene(SCENES / f"{name}.yaml"), tmp_path)
    assert set(codes(check(written.clip, outlet=written.outlet, registry=registry))) == codes_meant


def test_times_rounded_and_readout_along_the_fall_are_notes(look: Look) -> None:
    rounded = look(recording={"rounded_to_us": 1000.0}).notes
    assert [one.code.code for one in rounded] == ["times_rounded"]
    along = look(camera={"readout": "down", "line_time_us": 20.0}).notes
    assert [one.code.code for one in along] == ["readout_along_fall"]


def test_a_speed_that_the_outlet_file_states_wrongly(look: Look) -> None:
    def wrongly(outlet: Outlet) -> Outlet:
        return outlet.model_copy(
            update={"motion": outlet.motion.model_copy(update={"speed_mm_s": 900.0})}
        )

    assert codes(look(wrongly)) == ["speed_unlike_setting"]


def test_a_clip_that_breaks_off(tmp_path: Path, registry: Registry) -> None:
    written = write_pour(scene(), tmp_path)
    whole = written.clip.read_bytes()
    written.clip.write_bytes(whole[: int(0.9 * len(whole))])
    assert codes(check(written.clip, outlet=written.outlet, registry=registry)) == [
        "recording_incomplete"
    ]


def test_slow_motion_without_a_tag(look: Look) -> None:
    """Eight times slower, gravity is 64 times less (v t and a t² with t stretched)."""

    def untold(outlet: Outlet) -> Outlet:
        camera = outlet.camera.model_copy(update={"capture_fps": None})
        motion = outlet.motion.model_copy(update={"speed_mm_s": None})
        return outlet.model_copy(update={"camera": camera, "motion": motion})

    sections = {"camera": {"fps": 240.0}, "recording": {"slowed": 8.0}, "lip_speed_mm_s": 0.0}
    examined = look(untold, **sections)
    assert codes(examined) == ["capture_rate_slowed"]
    (times,) = re.findall(r"about ([0-9.]+)x slowed", examined.findings[0].found)
    assert float(times) == pytest.approx(8.0, rel=0.02)
    assert codes(look(**sections)) == []


def test_flicker_of_100_hz_at_90_frames_a_second_is_seen_at_10_hz(look: Look) -> None:
    """Common knowledge of sampling: |100 - 90| = 10 Hz."""
    light = look(camera={"fps": 90.0}, light={"flicker_percent": 3.0}, lead_in_s=0.8).light
    assert light.flicker_seen_hz == pytest.approx(10.0, abs=0.2)
    assert light.flicker_percent == pytest.approx(3.0, rel=0.1)
    assert light.light_hz == (100.0,)
    assert not light.light_hz_certain


@pytest.mark.parametrize("readout", ["up", "right"])
def test_bands_tell_the_frequency_for_certain(look: Look, readout: str) -> None:
    """The VGA mode of the OV5647 reads a row in 31.749 us; light at 100 Hz makes bands of 315
    rows (1 / (2 x 50 Hz x 31.749 us); line length and pixel rate from its Linux driver).
    """
    camera = {"fps": 62.5, "readout": readout, "line_time_us": 31.749}
    view = {"width_px": 240} if readout in ("left", "right") else {}
    light = look(
        camera=camera, light={"flicker_percent": 5.0}, view=view, lead_in_s=0.8, release=ONE
    ).light
    assert light.rows_per_cycle == pytest.approx(315.0, rel=0.05)
    assert light.light_hz == (100.0,)
    assert light.light_hz_certain


def test_a_pulsed_lamp_is_told_by_its_bands(look: Look) -> None:
    """1010 Hz with 19.8 us a row makes bands of 50 rows, and is no mains light."""
    camera = {"readout": "down", "line_time_us": 19.8, "exposure_us": 100.0}
    light = look(camera=camera, light=PULSED, release=ONE).light
    assert light.rows_per_cycle == pytest.approx(50.0, rel=0.05)
    (hz,) = light.light_hz
    assert hz == pytest.approx(1010.0, rel=0.01)


def test_blur_is_speed_times_exposure(look: Look) -> None:
    """Blur = v x exposure: 1.4 m/s and 1 ms smear 1.4 mm (any text on machine vision)."""
    exposure_us = 4000.0
    examined = look(camera={"exposure_us": exposure_us})
    picture, speed = examined.picture, examined.motion.speed_px_s
    assert picture.exposure_us == pytest.approx(exposure_us, rel=0.15)
    assert picture.blur_px == pytest.approx(speed * exposure_us * 1e-6, rel=0.15)


def test_speed_and_shake_are_the_scenes(look: Look) -> None:
    """v² = v0² + 2 g h with standard gravity; a sine of 0.5 px exceeds 0.49 px (its 95th
    percentile, sin(0.475 pi)) in either direction.
    """
    shaken = {"surroundings": TEXTURE | {"feeder": {"hz": 33.0, "amplitude_px": 0.5}}}
    examined = look(**shaken)
    truly = ((4 * 400.0) ** 2 + 2 * G_PX_S2 * 220.0) ** 0.5
    assert examined.motion.speed_px_s == pytest.approx(truly, rel=0.02)
    assert 0.49 < (examined.steadiness.shake_px or 0.0) < 0.73


@pytest.mark.footage
def test_a_camera_in_the_wind(footage: Path, registry: Registry) -> None:
    """A camera that sways and sets its own exposure; to be seen with the eye."""
    found = codes(check(footage / "cars-2way" / "car-detection.mp4", registry=registry))
    assert {"camera_shakes", "light_changed"} <= set(found)
