"""The frames that reach the file."""

import itertools

import numpy as np
import pytest

from viscount.simulate.scene import (
    AutoExposure,
    Ball,
    Camera,
    Escapement,
    Faults,
    Light,
    Recording,
    Scene,
    Step,
)
from viscount.simulate.timeline import FrameTime, frame_times


def times(
    *, light: Light | None = None, exposure_us: float = 200.0, **recording: object
) -> tuple[FrameTime, ...]:
    scene = Scene(
        parts=(Ball(diameter_mm=4.0),),
        release=Escapement(count=1, interval_ms=9.0),
        camera=Camera(fps=100.0, exposure_us=exposure_us),
        light=light or Light(),
        recording=Recording.model_validate(recording),
    )
    return frame_times(scene, 1.0)


def test_a_steady_camera() -> None:
    made = times()
    assert [t.number for t in made] == list(range(101))
    assert all(t.new for t in made)
    assert [t.file_t_ns for t in made] == [t.t_ns for t in made] == [k * 10**7 for k in range(101)]


@pytest.mark.parametrize(
    ("codec", "spoiled"), [("h264", [30, *range(31, 50)]), ("mjpeg", [30]), ("ffv1", [30])]
)
def test_damage_lasts_to_the_next_key_frame(codec: str, spoiled: list[int]) -> None:
    """In H.264, where each quarter of a second begins with one: at 100 Hz the frames 0, 25, 50."""
    made = times(codec=codec, faults=Faults(damaged=(30,)))
    assert [t.number for t in made if not t.new] == spoiled


def test_faults_of_frames() -> None:
    faults = Faults(dropped=(3, 4), repeated=(7, 8), torn=(20,), damaged=(30,))
    made = {t.number: t for t in times(faults=faults)}
    assert set(range(101)) - set(made) == {3, 4}
    assert [made[k].shows for k in (6, 7, 8, 9)] == [6, 6, 6, 9]
    assert made[8].shown_t_ns == made[6].t_ns
    assert made[8].t_ns == 8 * 10**7
    assert made[20].torn is not None
    assert made[20].torn.number == 19
    assert made[30].damaged
    assert {k for k, t in made.items() if not t.new} == {7, 8, 20, *range(30, 50)}


def test_a_rate_that_wanders_keeps_its_mean() -> None:
    intervals = np.diff([t.t_ns for t in times(wander_percent=8.0)]) * 1e-9
    assert intervals.mean() == pytest.approx(0.01, rel=0.04)
    assert intervals.std() == pytest.approx(0.0008, rel=0.3)


def test_times_in_the_file_are_rounded_slowed_and_late_but_rise() -> None:
    rounded = times(rounded_to_us=1000.0)
    assert all(t.file_t_ns % 10**6 == 0 for t in rounded)
    slow = times(slowed=8.0)
    assert [t.file_t_ns for t in slow] == [8 * t.t_ns for t in slow]
    late = times(late_ms=6.0)
    assert all(t.file_t_ns >= t.t_ns for t in late)
    assert len({t.file_t_ns - t.t_ns for t in late}) > 50
    # The mean size of a normal value is sqrt(2 / pi) sigma; some wait for the one before them.
    little = times(late_ms=1.0)
    delays = [(t.file_t_ns - t.t_ns) * 1e-6 for t in little]
    assert np.mean(delays) == pytest.approx(np.sqrt(2 / np.pi), rel=0.2)
    for made in (rounded, slow, late):
        assert all(a.file_t_ns < b.file_t_ns for a, b in itertools.pairwise(made))


def test_auto_exposure_answers_darkness_with_longer_exposures_and_frames() -> None:
    light = Light(
        steps=(Step(at_s=0.3, percent=-75.0),), auto_exposure=AutoExposure(time_constant_s=0.05)
    )
    made = times(light=light, exposure_us=4000.0)
    assert made[10].exposure_s == pytest.approx(0.004)
    last = made[-1]
    assert last.exposure_s == pytest.approx(0.016, rel=0.02)
    # The level is back where it was: a quarter of the light, four times the exposure.
    assert 0.25 * last.gain == pytest.approx(1.0, rel=0.02)
    assert (made[-1].t_ns - made[-2].t_ns) * 1e-9 == pytest.approx(last.exposure_s, rel=0.02)
    capped = times(
        light=light.model_copy(
            update={"auto_exposure": AutoExposure(time_constant_s=0.05, longest_exposure_us=6000)}
        ),
        exposure_us=4000.0,
    )
    assert capped[-1].exposure_s == pytest.approx(0.006, rel=0.02)


def test_late_times_rise_by_what_a_file_can_tell() -> None:
    stamps = np.array([t.file_t_ns for t in times(late_ms=40.0)])
    assert (np.diff(stamps) >= 1000).all()
    assert not (stamps % 1000).any()


def test_exposure_follows_the_light_with_its_time_constant() -> None:
    """After one time constant 1 - 1/e of the way is done, however long the frames are."""
    for exposure_us in (2000.0, 9000.0):
        light = Light(
            steps=(Step(at_s=0.2, percent=-60.0),), auto_exposure=AutoExposure(time_constant_s=0.2)
        )
        made = times(light=light, exposure_us=exposure_us)
        after = next(t for t in made if t.t_ns * 1e-9 >= 0.4)
        expected = exposure_us * (1 + 1.5 * (1 - np.exp(-1.0)))
        assert after.exposure_s * 1e6 == pytest.approx(expected, rel=0.06)


@pytest.mark.parametrize(("first", "second"), [(-75.0, 300.0), (300.0, -75.0)])
def test_no_exposure_begins_before_the_last_has_ended(first: float, second: float) -> None:
    light = Light(
        steps=(Step(at_s=0.3, percent=first), Step(at_s=0.6, percent=second)),
        auto_exposure=AutoExposure(time_constant_s=0.02),
    )
    for made in (
        times(light=light, exposure_us=9000.0),
        times(exposure_us=9000.0, wander_percent=30.0),
        times(light=light, exposure_us=9000.0, wander_percent=30.0),
    ):
        begins = np.array([t.t_ns * 1e-9 - t.exposure_s / 2 for t in made])
        ends = np.array([t.t_ns * 1e-9 + t.exposure_s / 2 for t in made])
        assert (begins[1:] - ends[:-1]).min() > -2e-9
