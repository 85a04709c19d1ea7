"""What is in the view beside the parts."""

from collections.abc import Callable

import numpy as np
import pytest

from viscount.simulate.drawing.bystanders import Specks
from viscount.simulate.geometry import upright
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import (
    Bag,
    Ball,
    Beam,
    Belt,
    Blow,
    Box,
    Camera,
    Cycle,
    Dust,
    Escapement,
    Feeder,
    Gate,
    Intruder,
    Lamp,
    Lanes,
    Scene,
    Surroundings,
    Texture,
    View,
)

BACKGROUND = 190.0


def pour(count: int = 0, surroundings: Surroundings | None = None, **more: object) -> Pour:
    fields: dict[str, object] = {
        "parts": (Ball(diameter_mm=5.0),),
        "release": Escapement(count=count, interval_ms=100.0),
        "motion": Belt(speed_mm_s=800.0),
        "view": View(width_px=80, height_px=160, lip_px=-20.0, line_px=80.0),
        "camera": Camera(fps=100.0, exposure_us=100.0, noise=0.0, background_grey=BACKGROUND),
        "surroundings": surroundings or Surroundings(),
        "lead_in_s": 0.0,
        "duration_s": 1.0,
    }
    return simulate(Scene.model_validate(fields | more))


def pictures(made: Pour) -> list[np.ndarray]:
    return [made.studio.noiseless(time) for time in made.times]


def differs(picture: np.ndarray) -> np.ndarray:
    return np.abs(picture - BACKGROUND) > 1.0


def test_texture_has_the_stated_contrast_and_stays() -> None:
    texture = Texture(contrast=8.0, grain_px=6.0)
    view = View(width_px=400, height_px=400, lip_px=-20.0, line_px=80.0)
    first, *others = pictures(pour(surroundings=Surroundings(texture=texture), view=view))
    assert first.std() == pytest.approx(8.0, rel=0.1)
    assert first.mean() == pytest.approx(BACKGROUND, abs=1.0)
    assert all(np.array_equal(first, other) for other in others)


def test_texture_creeps_by_its_speed() -> None:
    texture = Texture(contrast=8.0, speed_px_s=200.0)
    made = pictures(pour(surroundings=Surroundings(texture=texture)))
    # 2 px a frame at 100 frames per second.
    np.testing.assert_allclose(made[5][2:], made[4][:-2], atol=0.05)


def test_shaking_moves_background_and_parts_alike() -> None:
    """A blow of 3 px: background and ball are off by the same, the truth says by how much."""
    blow = Blow(at_s=0.01, amplitude_px=3.0, hz=25.0, decay_s=0.2)
    still = pour(1, Surroundings(texture=Texture(contrast=4.0)))
    shaken = pour(1, Surroundings(texture=Texture(contrast=4.0), blows=(blow,)))
    # A quarter of a period after the blow.
    k = 2
    off = 3.0 * np.exp(-0.01 / 0.2) * np.sin(2 * np.pi * 25.0 * 0.01)
    seen = [p.truth.frames[k].seen[0].y_px for p in (still, shaken)]
    assert seen[1] - seen[0] == pytest.approx(off, abs=1e-3)
    moved, at_rest = (p.studio.noiseless(p.times[k]) for p in (shaken, still))
    rows = np.arange(160.0)
    for column in (5, 70):
        expected = np.interp(rows[20:-20] - off, rows, at_rest[:, column])
        assert np.abs(moved[20:-20, column] - expected).max() < 0.5


def test_feeder_shakes_both_ways() -> None:
    feeder = Feeder(hz=7.0, amplitude_px=2.0)
    made = pour(1, Surroundings(feeder=feeder), lanes=Lanes(positions_mm=(0.0,)))
    seen = [frame.seen[0] for frame in made.truth.frames if frame.seen and frame.seen[0].whole]
    across = np.array([s.x_px for s in seen])
    assert np.ptp(across) > 1.0
    assert np.abs(across - 39.5).max() <= 2.0 + 1e-6


def test_hand_comes_and_goes() -> None:
    hand = Intruder(kind="hand", from_s=0.2, until_s=0.6, size_px=40.0, along_px=80.0)
    made = pictures(pour(surroundings=Surroundings(intruders=(hand,))))
    areas = np.array([differs(p).sum() for p in made])
    assert areas[:20].max() == 0
    assert areas[61:].max() == 0
    assert areas.argmax() == pytest.approx(40, abs=1)
    assert 40 * 40 < areas.max() < 40 * 80


def test_insect_crosses_the_view() -> None:
    insect = Intruder(kind="insect", from_s=0.2, until_s=0.8, size_px=8.0, along_px=40.0)
    made = pictures(pour(surroundings=Surroundings(intruders=(insect,))))
    columns = [np.nonzero(differs(p))[1].mean() for p in made[30:70]]
    assert all(np.diff(columns) > 0)
    assert max(differs(p).sum() for p in made) == pytest.approx(np.pi * 4.5**2, rel=0.15)


def test_bag_sways() -> None:
    bag = Bag(rim_px=120.0, sway_px=4.0, sway_hz=2.0)
    rims = [differs(p)[:, 0].argmax() for p in pictures(pour(surroundings=Surroundings(bag=bag)))]
    assert (min(rims), max(rims)) == (pytest.approx(116, abs=1), pytest.approx(124, abs=1))


def test_dust_sinks() -> None:
    dust = Dust(count=3, size_px=3.0, speed_px_s=50.0)
    made = pictures(pour(surroundings=Surroundings(dust=dust)))
    assert all(differs(p).sum() < 4 * np.pi * 4 for p in made)
    assert any(differs(p).sum() > 5 for p in made)
    rows = [np.nonzero(differs(p))[0] for p in made]
    assert rows[10].mean() != pytest.approx(rows[0].mean(), abs=0.5)


def test_specks_are_round_wherever_one_looks() -> None:
    dust = Dust(count=40, size_px=5.0)
    up = upright(pour().scene)
    specks = Specks(dust, up, seed=3)
    rows, columns = np.arange(160.0)[:, None], np.arange(80.0)[None, :]
    whole = specks.cover(rows, columns, 0.3)
    assert whole is not None
    for middle in np.argwhere(whole == 1.0):
        near = np.hypot(rows - middle[0], columns - middle[1]) < 2.5 - np.sqrt(0.5) - 1
        assert (whole[near] > 0.5).all()
    assert whole.sum() == pytest.approx(40 * np.pi * 2.5**2 * 160 / 180, rel=0.2)
    piece = specks.cover(rows[30:90], columns[:, 10:50], 0.3)
    np.testing.assert_array_equal(piece, whole[30:90, 10:50])


def test_lamp_is_lit_while_the_beam_is_blocked() -> None:
    lamp = Lamp(left_px=60, top_px=100, width_px=6, height_px=8)
    beam = Beam(below_lip_mm=10.0, width_mm=1.0, lamp=lamp)
    made = pour(3, beam=beam)
    blocked = [(e.t_ns, e.blocked) for e in made.edges]
    lit = []
    for time in made.times:
        picture = made.studio.noiseless(time)
        corner = picture[100:108, 60:66]
        assert np.ptp(corner) == 0
        lit.append(bool(corner[0, 0] > 200))
        before = [b for t, b in blocked if t <= time.t_ns]
        assert lit[-1] is (bool(before) and before[-1])
    assert 0 < sum(lit) < len(lit)


def test_blade_covers_the_stream_when_it_is_shut() -> None:
    gate = Gate(below_lip_mm=30.0, cycles=(Cycle(open_ms=-10.0, shut_ms=300.0),), thickness_mm=2.0)
    made = pour(3, gate=gate, parts=(Box(along_mm=4.0, across_mm=4.0),))
    before, after = (made.studio.noiseless(made.times[k]) for k in (5, 90))
    row = 100 + 4
    assert not differs(before)[row, 33:46].any()
    assert (np.abs(after[row, 33:46] - gate.grey) < 1).all()


@pytest.mark.parametrize(
    "change",
    [
        lambda s: s.model_copy(update={"dust": Dust()}),
        lambda s: s.model_copy(update={"texture": Texture()}),
        lambda s: s.model_copy(update={"feeder": Feeder()}),
    ],
    ids=["dust", "texture", "feeder"],
)
def test_a_frame_is_the_same_alone(change: Callable[[Surroundings], Surroundings]) -> None:
    surroundings = change(Surroundings())
    alone = pour(3, surroundings, camera=Camera(fps=100.0))
    whole = list(pour(3, surroundings, camera=Camera(fps=100.0)).frames())
    for k in (17, 3):
        np.testing.assert_array_equal(alone.studio.frame(alone.times[k]), whole[k][1])
