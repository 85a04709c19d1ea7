"""Light on the mains before a rolling shutter: what is seen and counted, against what is true.

The bands' pitch is that of printed frame and line times: 100 Hz is 10 ms a band, so that lines
36 us apart make one of 278 lines.
"""

import numpy as np
import pytest
from counting import count_frames, outlet
from scenes import Shot, field_scene, shot

from viscount.seams import View
from viscount.simulate.scene import Feeder, Light, Surroundings, Texture
from viscount.values import Falls, Seeing, Sighting, Status
from viscount.vision import background as learning
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

BARE = outlet(view={"line_px": 80})
NOISE = 1.7
LEAD_IN = 60
LAMP = Light(flicker_percent=7.8, flicker_hz=100.0)


def banded(
    readout: str = "down",
    *,
    fps: float = 60.0,
    light: Light = LAMP,
    part_grey: float = 85.0,
    surroundings: Surroundings | None = None,
) -> Shot:
    """Return ten parts at 1500 px/s under a lamp on the mains; a readout of 160 lines is 5.8 ms."""
    made = field_scene(
        fps=fps,
        pitch_ms=90.0,
        speed_px_s=1500.0,
        background_grey=200.0,
        part_grey=part_grey,
        noise=NOISE,
        readout=readout,
        line_time_us=36.0 if readout in ("down", "up") else 48.0,
        exposure_us=200.0,
        blur_px=0.6,
        light=light,
    )
    if surroundings is None:
        return made
    return shot(made.scene.model_copy(update={"surroundings": surroundings}))


def seen(made: Shot) -> list[Sighting]:
    detector = DifferenceDetector(DifferenceOptions(), View(falls=Falls.DOWN))
    detector.prime(made.frames[:LEAD_IN])
    return [detector.see(frame) for frame in made.frames]


def strangers(made: Shot, sightings: list[Sighting]) -> int:
    """Return how many regions are no parts: all in the lead-in, and more than are in view later.

    The truth leaves out the slivers by which parts begin to come in.
    """
    found = sum(len(sighting.blobs) for sighting in sightings[:LEAD_IN])
    for sighting, truth in zip(sightings, made.truth.frames, strict=True):
        whole = [blob for blob in sighting.blobs if not blob.cut_by_edge]
        found += max(len(whole) - len(truth.seen), 0)
    return found


@pytest.mark.parametrize(
    ("readout", "fps"), [("down", 60.0), ("up", 90.0), ("right", 60.0), ("left", 90.0)]
)
def test_parts_are_seen_and_counted_under_bands_of_light(
    readout: str, fps: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = banded(readout, fps=fps)
    sightings = seen(made)
    assert strangers(made, sightings) == 0
    assert {s.state for s in sightings} == {Seeing.SEEING}
    # 4.5 sigma of noise and rounding are 7.8 grey: the least contrast of 8, or one more.
    assert sightings[-1].detectable_contrast <= 10
    found = count_frames(made.frames, BARE)
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    monkeypatch.setattr(learning, "bands_between", lambda pictures: None)
    assert seen(made)[-1].detectable_contrast > 25


@pytest.mark.parametrize("readout", ["down", "right"])
def test_a_shaken_camera_and_a_blotched_background_change_nothing(readout: str) -> None:
    around = Surroundings(
        texture=Texture(contrast=5.0, grain_px=12.0), feeder=Feeder(hz=50.0, amplitude_px=0.7)
    )
    made = banded(readout, surroundings=around)
    assert strangers(made, seen(made)) == 0
    found = count_frames(made.frames, BARE)
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)


def test_faint_parts_are_counted_under_bands_of_light() -> None:
    made = banded(part_grey=180.0)
    assert strangers(made, seen(made)) == 0
    found = count_frames(made.frames, BARE)
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)


def test_the_learned_noise_is_the_cameras() -> None:
    made = banded()
    background = learning.learn_background([frame.pixels for frame in made.frames[:LEAD_IN]])
    assert background.bands is not None
    assert np.median(background.sigma) == pytest.approx(np.hypot(NOISE, 12**-0.5), rel=0.1)


def test_steady_light_and_flicker_before_a_global_shutter_have_no_bands() -> None:
    for readout, light in (("down", Light()), ("global", LAMP)):
        pictures = [frame.pixels for frame in banded(readout, light=light).frames[:LEAD_IN]]
        assert learning.learn_background(pictures).bands is None
