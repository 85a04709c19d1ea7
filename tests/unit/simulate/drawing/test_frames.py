"""What is made of a drawn picture: the lens, and frames that tore."""

from dataclasses import replace

import numpy as np
import pytest

from viscount.simulate.drawing.exposure import STEP_PX, farthest_px, fastest_px_s, instants
from viscount.simulate.pour import simulate
from viscount.simulate.scene import (
    Belt,
    Blow,
    Box,
    Camera,
    Faults,
    Feeder,
    Recording,
    Scene,
    Surroundings,
    Times,
    View,
)
from viscount.simulate.shake import shift_px
from viscount.values import Falls


def scene(**more: object) -> Scene:
    fields: dict[str, object] = {
        "parts": (Box(along_mm=10.0, across_mm=5.0),),
        "release": Times(times_ms=(0.0,)),
        "motion": Belt(speed_mm_s=800.0),
        "view": View(width_px=80, height_px=160, lip_px=-60.0, line_px=80.0),
        "camera": Camera(fps=100.0, exposure_us=0.0, noise=0.0),
        "lead_in_s": 0.0,
        "duration_s": 0.1,
    }
    return Scene.model_validate(fields | more)


@pytest.mark.parametrize(
    ("readout", "old"),
    [
        ("global", np.s_[80:]),
        ("down", np.s_[80:]),
        ("up", np.s_[:80]),
        ("right", np.s_[:, 80:]),
        ("left", np.s_[:, :80]),
    ],
)
@pytest.mark.parametrize("falls", list(Falls))
def test_a_torn_frame_is_old_where_it_is_read_last(
    readout: str, old: tuple[slice, ...], falls: Falls
) -> None:
    view = View(
        width_px=160,
        height_px=160,
        falls=falls,
        lip_px=-60.0 if falls.sign > 0 else 219.0,
        line_px=80.0,
    )
    made = simulate(
        scene(
            view=view,
            release=Times(times_ms=(0.0, 22.0)),
            camera=Camera(fps=100.0, exposure_us=0.0, readout=readout, line_time_us=1.0),
            recording=Recording(faults=Faults(torn=(5, 6))),
        )
    )
    for k in (5, 6):
        time = made.times[k]
        torn, own = made.studio.frame(time), made.studio.frame(replace(time, torn=None))
        before = made.studio.frame(made.times[k - 1])
        np.testing.assert_array_equal(torn[old], before[old])
        fresh = np.ones(torn.shape, dtype=bool)
        fresh[old] = False
        np.testing.assert_array_equal(torn[fresh], own[fresh])
        assert not np.array_equal(torn, own)


@pytest.mark.parametrize("blur_px", [0.6, 1.2, 2.0])
@pytest.mark.parametrize("gap_px", [0.5, 2.5, 4.0, 5.0, 7.0, 9.0])
def test_light_of_parts_that_do_not_overlap_adds_up(blur_px: float, gap_px: float) -> None:
    """A lens is linear: what two parts take off the light is the sum of what each takes off."""
    made = simulate(
        scene(
            release=Times(times_ms=(0.0, (40.0 + gap_px) / 3.2)),
            camera=Camera(fps=100.0, exposure_us=0.0, noise=0.0, blur_px=blur_px),
        )
    )
    time = made.times[5]
    alone = [made.studio.part_alone(time, k) for k in (0, 1)]
    expected = alone[0] + alone[1] - made.scene.camera.background_grey
    np.testing.assert_allclose(made.studio.noiseless(time), expected, atol=0.02)


def test_instants_are_spread_over_the_exposure() -> None:
    assert instants(5000.0, 0.0).tolist() == [0.0]
    assert instants(0.0, 0.01).tolist() == [0.0]
    offsets = instants(1000.0, 0.01)
    assert len(offsets) == 40
    assert offsets.mean() == pytest.approx(0.0, abs=1e-12)
    assert np.diff(offsets) == pytest.approx(np.full(39, STEP_PX / 1000))
    assert offsets[-1] - offsets[0] + STEP_PX / 1000 == pytest.approx(0.01)


def test_shaking_stays_within_its_bounds() -> None:
    around = Surroundings(
        feeder=Feeder(hz=53.0, amplitude_px=1.2), blows=(Blow(at_s=0.01), Blow(at_s=0.02, hz=90.0))
    )
    t = np.linspace(0.0, 0.2, 200_001)
    along, across = shift_px(around, t)
    assert np.abs(along).max() <= farthest_px(around)
    assert np.abs(across).max() <= farthest_px(around)
    speed = np.abs(np.gradient(along, t)).max()
    assert 0.5 * fastest_px_s(around) < speed <= fastest_px_s(around) * (1 + 1e-4)
    assert (farthest_px(Surroundings()), fastest_px_s(Surroundings())) == (0.0, 0.0)
