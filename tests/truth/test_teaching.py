"""Single parts dropped by hand, with known truth: what they teach, and how that counts."""

from functools import cache
from typing import Any

import numpy as np
import pytest
from counting import Counted, count_frames, outlet
from lessons import BEAM, dropped, lesson_of, outlet_of, taught_by
from scenes import SCALE, Shot, box, field_scene, shot
from scipy.stats import binom, norm

from viscount.beam.signature import signature_of
from viscount.codes import Code
from viscount.errors import TeachingError
from viscount.motion.single import EDGE_PX
from viscount.outlet import Part, Taught
from viscount.simulate.scene import Scene
from viscount.simulate.solids import projected, rotation_at_rest
from viscount.values import Status

SPOT = BEAM | {"sees": "spot"}
DROPS: dict[str, Scene] = {
    "screw": dropped("ISO 4762 M4x12", seed=5, beam=BEAM),
    "washer": dropped("ISO 7089 M4", seed=6, beam=SPOT, lanes={"spread_mm": 1.5}),
    "nut": dropped("ISO 4032 M4", seed=7, beam=BEAM),
}


PERIMETERS_MM = {"screw": 2 * (16 + 7), "washer": np.pi * 13.3, "nut": np.pi * 4 + 42 / 3**0.5}
"""Of the outlines, bores included."""


@cache
def lesson(kind: str) -> tuple[Shot, Taught]:
    taken = shot(DROPS[kind])
    found = taught_by([taken], outlet_of(DROPS[kind]), beam=True, count=24)
    assert found.warnings == ()
    return taken, found.taught


def poured(standard: str, part: Taught | None, *, seed: int = 40, **how: Any) -> Counted:
    """Count a pour of twelve under the taught part."""
    scene = dropped(standard, count=12, interval_ms=45.0, seed=seed, **how)
    keys = {} if part is None else {"part": {"taught": part.model_dump(exclude_unset=True)}}
    return count_frames(shot(scene).frames, outlet_of(scene, **keys))


@pytest.mark.parametrize("kind", DROPS)
def test_sizes_agree_with_the_solids_that_fell(kind: str):
    """A region reaches as far as its edges stand above the threshold, on every side."""
    _, taught = lesson(kind)
    part = DROPS[kind].parts[0]
    outline = projected(part, rotation_at_rest(part), SCALE)
    length = outline.reach(1.0, 0.0) + outline.reach(-1.0, 0.0)
    assert taught.singles == 24
    assert taught.length.p05 * SCALE - 2 * EDGE_PX - 1 <= length <= taught.length.p95 * SCALE
    rim = EDGE_PX * SCALE * PERIMETERS_MM[kind]
    area = outline.outline.area
    assert taught.area.p05 * SCALE**2 - rim <= area <= taught.area.p95 * SCALE**2


@pytest.mark.parametrize(
    ("kind", "true_mm"),
    [
        # A ring: its radius of gyration squared is the mean of both radii squared.
        ("washer", np.sqrt((4.5**2 + 2.15**2) / 2)),
        # A head of 7 x 4 and a shank of 4 x 12 mm, each w d (w^2 + d^2)/12 about its middle.
        ("screw", np.sqrt((28 * 65 / 12 + 48 * 160 / 12 + 28 * 48 / 76 * 8.0**2) / 76)),
    ],
)
def test_the_radius_of_gyration_is_that_of_the_part(kind: str, true_mm: float):
    _, taught = lesson(kind)
    assert taught.gyration.median == pytest.approx(true_mm, rel=0.012)


def test_pulses_of_screws_are_one_each_as_long_as_the_screw():
    _, taught = lesson("screw")
    beam = taught.beam
    assert beam is not None
    assert (beam.one_pulse.parts, beam.two_pulses.parts, beam.unseen.parts) == (24, 0, 0)
    # 16 mm, and some of the head's 7 mm where the screw leans: at 4 degrees half a mm.
    assert 16.0 < beam.pulse.p05 < beam.pulse.p95 < 16.6


def test_washers_through_a_spot_show_their_bore_as_often_as_chance_allows():
    """They fall 1.5 mm (one sigma) from the beam's middle; their bore has a radius of 2.15 mm."""
    taken, taught = lesson("washer")
    beam = taught.beam
    assert beam is not None
    two, one = beam.two_pulses.parts, beam.one_pulse.parts
    assert one + two == 24
    # A chord of the bore shorter than half the beam's width does not show.
    likely = float(2 * norm.cdf(np.sqrt(2.15**2 - 0.25**2) / 1.5) - 1)
    assert binom.ppf(0.005, 24, likely) <= two <= binom.ppf(0.995, 24, likely)
    middle = (DROPS["washer"].view.width_px - 1) / 2
    aside = np.array([(p.across_px or 0.0) - middle for p in taken.truth.parts]) / SCALE
    assert (np.abs(aside) < 1.9).sum() <= two <= (np.abs(aside) < 2.2).sum()
    assert beam.two_pulses.low < two / 24 < beam.two_pulses.high


def test_the_taught_signature_stands_before_all_sizes():
    _, taught = lesson("washer")
    sizes = {"shape": "washer", "diameter_mm": 9.0, "bore_mm": 4.3, "thickness_mm": 0.8}
    signature = signature_of(Part(**sizes, taught=taught), ray=False)
    assert signature is not None
    assert sum(mode.chance for mode in signature.modes) == pytest.approx(1.0, abs=1e-4)
    assert len(signature.modes[0].darks) == 2


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"camera": {"blur_px": 1.2, "exposure_us": 800.0}},
        {"camera": {"background_grey": 110.0, "part_grey": 70.0, "noise": 3.0}},
        {"lip_speed_mm_s": 900.0, "camera": {"exposure_us": 1500.0, "fps": 187.0}},
        {"camera": {"readout": "down", "line_time_us": 20.0}},
    ],
    ids=["the same", "soft and slow", "dim", "fast and smeared", "rolling"],
)
def test_the_right_part_in_other_light_is_clean(how: dict[str, Any]):
    found = poured("ISO 4032 M4", lesson("nut")[1], **how)
    assert (found.result.count, found.result.status) == (12, Status.CLEAN)


@pytest.mark.parametrize(
    ("kind", "other"),
    [
        ("screw", "ISO 4762 M4x16"),
        ("washer", "ISO 4032 M4"),
        ("nut", "ISO 7089 M4"),
        ("nut", "ISO 4032 M5"),
    ],
)
def test_another_part_in_the_magazine_is_doubted(kind: str, other: str):
    found = poured(other, lesson(kind)[1])
    assert found.result.status is Status.DOUBTFUL
    assert "part_differs" in found.codes
    assert poured(other, None).result.status is Status.CLEAN


def test_another_part_than_the_stated_one_is_doubted():
    scene = dropped("ISO 4762 M4x16", count=12, interval_ms=45.0)
    stated = {"shape": "screw", "overall_length_mm": 16.0, "diameter_mm": 7.0}
    found = count_frames(shot(scene).frames, outlet_of(scene, part=stated))
    assert Code.PART_DIFFERS.code in found.codes
    right = stated | {"overall_length_mm": 20.0}
    found = count_frames(shot(scene).frames, outlet_of(scene, part=right))
    assert found.result.status is Status.CLEAN


# ---- parts in pieces, and pairs


@cache
def taught_box(along_px: float, across_px: float, glint_px: float = 0.0) -> Taught:
    part = box(along_px, across_px, glint_px=glint_px)
    taken = field_scene(part=part, parts=24, pitch_ms=150.0, seed=3)
    machine = outlet(**MACHINE)
    pieces = lesson_of(taken, machine).pairs
    length = float(np.median(pieces)) if pieces else None
    return taught_by([taken], machine, count=24, piece_length_px=length).taught


MACHINE: dict[str, Any] = {
    "motion": {"kind": "belt"},
    "view": {"line_px": 80, "scale_px_per_mm": SCALE},
}


def under(taught: Taught) -> Any:
    return outlet(**MACHINE, part={"taught": taught.model_dump(exclude_unset=True)})


def test_a_glint_is_one_part_where_its_length_was_taught():
    part = box(30.0, 16.0, glint_px=4.0)
    pieces = lesson_of(field_scene(part=part, parts=24, pitch_ms=150.0), outlet(**MACHINE))
    assert pieces.in_pieces
    taught = taught_box(30.0, 16.0, 4.0)
    assert taught.length.median * SCALE == pytest.approx(30.0, abs=1.5)
    found = count_frames(field_scene(part=part).frames, under(taught))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)


PAIRS = [t for k in range(5) for t in (50.0 * k, 50.0 * k + 3.0)]
MIXED = [t for k in range(5) for t in (100.0 * k, 100.0 * k + 3.0, 100.0 * k + 50.0)]
CORNERS = [t for k in range(5) for t in (50.0 * k, 50.0 * k + 2.5)]


@pytest.mark.parametrize(
    ("across", "times", "lanes", "count"),
    [
        (16.0, PAIRS, (0.0,), 10),
        (15.0, CORNERS, (-7.5, 7.5), 10),
        (16.0, MIXED, (0.0,), 15),
    ],
    ids=["3 px apart", "sharing a corner", "with single ones"],
)
@pytest.mark.parametrize("stated", [True, False])
def test_close_pairs_are_two_parts_each(across, times, lanes, count, stated: bool):
    taken = field_scene(part=box(15.0, across), times_ms=times, lanes_px=lanes)
    known = outlet(**MACHINE, part={"along_fall_mm": 3.75})
    found = count_frames(taken.frames, known if stated else under(taught_box(15.0, across)))
    assert (found.result.count, found.result.status) == (count, Status.CLEAN)


def test_pairs_that_never_come_apart_are_told_by_the_taught_part():
    """Nose to tail, and among single ones; without the taught part they are a doubt."""
    times = [t for k in range(5) for t in (100.0 * k, 100.0 * k + 32 / 6, 100.0 * k + 50.0)]
    taken = field_scene(times_ms=times)
    taught = count_frames(taken.frames, under(taught_box(32.0, 16.0)))
    assert (taught.result.count, taught.result.status) == (15, Status.CLEAN)
    plain = count_frames(taken.frames, outlet(**MACHINE))
    assert plain.result.status is Status.DOUBTFUL


# ---- what cannot teach


def test_a_doubled_drop_is_refused():
    """Number seven brings another along, nose to tail."""
    times = [150.0 * k for k in range(24)]
    taken = field_scene(times_ms=sorted([*times, 150.0 * 7 + 32 / 6]))
    with pytest.raises(TeachingError) as refused:
        taught_by([taken], outlet(**MACHINE))
    assert "parts_merged" in str(refused.value)


def test_washers_of_which_half_stand_on_edge_cannot_teach():
    scene = dropped("ISO 7089 M4", seed=9)
    standing = scene.parts[0].model_copy(update={"pose": "standing"})
    scene = scene.model_copy(update={"parts": (*scene.parts, standing)})
    with pytest.raises(TeachingError, match="two look like one"):
        taught_by([shot(scene)], outlet_of(scene))
