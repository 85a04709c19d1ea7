"""What a part looks like to the beam, from its sizes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from taught_parts import taught_keys

from viscount.barrier import BeamLaw
from viscount.beam.outlines import hexagon_lines, round_lines
from viscount.beam.signature import signature_of
from viscount.outlet import Part
from viscount.values import Signature

WASHER = Part(shape="washer", diameter_mm=10.0, bore_mm=5.0, thickness_mm=1.0)
SCREW = Part(shape="screw", overall_length_mm=16.0, diameter_mm=7.0, thickness_mm=4.0)
NUT = Part(shape="nut", diameter_mm=7.0, bore_mm=4.0, thickness_mm=3.2)


def share(signature: Signature, darks: int) -> float:
    return sum(mode.chance for mode in signature.modes if len(mode.darks) == darks)


def test_a_washer_flat_to_a_ray():
    """Through the middle of the bore: dark 2.5, light 5, dark 2.5 mm; beside it up to 8.7 mm."""
    signature = signature_of(WASHER, ray=True)
    assert signature is not None
    assert signature.unit == "mm"
    through = [mode for mode in signature.modes if len(mode.darks) == 2]
    middle = max(through, key=lambda mode: mode.lights[0])
    assert middle.darks == pytest.approx((2.5, 2.5), abs=0.2)
    assert middle.lights == pytest.approx((5.0,), abs=0.4)
    # The bore takes half of the breadth.
    assert share(signature, 2) == pytest.approx(0.5, abs=0.01)
    beside = [mode.darks[0] for mode in signature.modes if len(mode.darks) == 1]
    assert 7.5 < max(beside) < 2 * np.sqrt(5.0**2 - 2.5**2)
    assert share(signature, 1) == pytest.approx(0.5, abs=0.01)


def test_a_curtain_sees_no_bore():
    signature = signature_of(WASHER, ray=False)
    assert signature is not None
    assert [(m.chance, m.darks) for m in signature.modes] == [(1.0, (10.0,))]


def test_where_nobody_knows_it_is_half_and_half():
    signature = signature_of(WASHER)
    assert signature is not None
    assert share(signature, 2) == pytest.approx(0.25, abs=0.01)
    assert signature.modes[0].darks == (10.0,)


@pytest.mark.parametrize(
    ("part", "length"),
    [
        (SCREW, 16.0),
        (SCREW.model_copy(update={"along_fall_mm": 7.0}), 7.0),
        (SCREW.model_copy(update={"along_fall_mm": 16.5}), 16.5),
        (WASHER.model_copy(update={"along_fall_mm": 1.0}), 1.0),
        (NUT.model_copy(update={"along_fall_mm": 3.2}), 3.2),
        (Part(shape="ball", diameter_mm=6.0), 6.0),
        (Part(along_fall_mm=8.0), 8.0),
    ],
)
def test_the_most_likely_length_of_a_part_seen_whole(part: Part, length: float):
    signature = signature_of(part, ray=False)
    assert signature is not None
    likeliest = max(signature.modes, key=lambda mode: mode.chance)
    assert likeliest.darks == (length,)
    assert likeliest.chance > 0.85


def test_a_lying_washer_shows_no_bore_to_any_beam():
    lying = signature_of(WASHER.model_copy(update={"along_fall_mm": 1.0}), ray=True)
    assert lying is not None
    assert share(lying, 1) == 1.0


def test_a_nut_shows_any_width_from_flat_to_flat_up_to_its_corners():
    signature = signature_of(NUT, ray=False)
    assert signature is not None
    widths = [mode.darks[0] for mode in signature.modes]
    assert min(widths) == pytest.approx(7.0, rel=0.03)
    assert max(widths) == pytest.approx(7.0 / np.cos(np.pi / 6), rel=0.03)


def test_a_wide_beam_closes_the_bore_and_misses_slivers():
    """At half the light a bore of 5 mm shows to beams up to 10 mm; chords below half are unseen."""
    wide = signature_of(WASHER, BeamLaw(width=4.0), ray=True)
    narrow = signature_of(WASHER, BeamLaw(width=0.5), ray=True)
    assert wide is not None
    assert narrow is not None
    assert 0 < share(wide, 2) < share(narrow, 2)
    assert wide.unseen == pytest.approx(1 - np.sqrt(5.0**2 - 1.0**2) / 5.0, abs=0.005)
    thin = Part(shape="washer", diameter_mm=10.0, thickness_mm=0.8, along_fall_mm=0.8)
    assert signature_of(thin, BeamLaw(width=2.0)) is None


def test_a_late_threshold_shortens_the_dark():
    signature = signature_of(SCREW, BeamLaw(width=2.0, threshold=0.75), ray=False)
    assert signature is not None
    assert signature.modes[0].darks == (15.0,)
    # Turned by a quarter, or the head alone.
    assert [mode.darks for mode in signature.modes[1:]] == [(6.0,), (3.0,)]


@pytest.mark.parametrize("part", [Part(), Part(shape="other"), Part(name="M4", bore_mm=3.0)])
def test_without_sizes_there_is_none(part: Part):
    assert signature_of(part) is None


@pytest.mark.parametrize(("scale", "unit"), [(4.0, "mm"), (None, "px")])
def test_what_was_taught_stands_over_sizes_beams_and_rays(scale: float | None, unit: str):
    part = Part.model_validate(
        WASHER.model_dump(exclude_unset=True) | {"taught": taught_keys(scale=scale, beam=True)}
    )
    for how in ({}, {"ray": False}, {"beam": BeamLaw(width=2.0)}):
        signature = signature_of(part, **how)
        assert signature is not None
        assert signature.unit == unit
        first, second = signature.modes
        assert first.darks == (pytest.approx(2.52), pytest.approx(2.52))
        assert first.lights == (pytest.approx(3.96),)
        assert second.lights == ()
        assert (share(signature, 2), signature.unseen) == (0.75, 0.0)


def test_taught_without_a_beam_sizes_tell_as_before():
    part = Part.model_validate(WASHER.model_dump(exclude_unset=True) | {"taught": taught_keys()})
    assert signature_of(part, ray=True) == signature_of(WASHER, ray=True)


@given(
    part=st.sampled_from([WASHER, SCREW, NUT, Part(shape="ball", diameter_mm=6.0)]),
    width=st.floats(0.0, 5.0),
    threshold=st.floats(0.2, 0.8),
    ray=st.sampled_from([True, False, None]),
)
def test_chances_add_up(part: Part, width: float, threshold: float, ray: bool | None):
    signature = signature_of(part, BeamLaw(width=width, threshold=threshold), ray=ray)
    assert signature is not None
    chances = [mode.chance for mode in signature.modes]
    assert min(chances) > 0
    assert sum(chances) + signature.unseen == pytest.approx(1.0)
    for mode in signature.modes:
        assert len(mode.lights) == len(mode.darks) - 1
        assert min(*mode.darks, *mode.lights, mode.sigma) > 0


@given(offset=st.floats(0.0, 3.4))
def test_the_chords_of_a_hexagon_agree_with_its_corners(offset: float):
    lines = hexagon_lines(7.0, 4.0, np.array([offset]))
    hole = np.sqrt(max(2.0**2 - offset**2, 0.0))
    k = np.arange(6)
    for turn, lead, bore, trail in zip(_turns(), lines.lead, lines.bore, lines.trail, strict=True):
        corners = 7.0 / np.sqrt(3) * np.exp(1j * (turn + np.pi / 6 + k * np.pi / 3))
        ends = []
        for a, b in zip(corners, np.roll(corners, -1), strict=True):
            if (a.real - offset) * (b.real - offset) < 0:
                along = (offset - a.real) / (b.real - a.real)
                ends.append(a.imag + along * (b.imag - a.imag))
        top, foot = (max(ends), min(ends)) if ends else (0.0, 0.0)
        walls = (top - hole, 2 * hole, -hole - foot) if hole else (top - foot, 0.0, 0.0)
        assert (lead, bore, trail) == pytest.approx(walls, abs=1e-6)


def _turns() -> np.ndarray:
    return (np.arange(16) + 0.5) * (np.pi / 3 / 16)


def test_chords_add_up_to_areas():
    offsets = (np.arange(4000) + 0.5) / 4000 * 6.0
    disk = round_lines(10.0, 5.0, offsets)
    area = 2 * (disk.lead + disk.trail).sum() * 6.0 / 4000
    assert area == pytest.approx(np.pi * (25 - 6.25), rel=1e-4)
    hexagon = hexagon_lines(7.0, 4.0, offsets)
    area = 2 * (hexagon.lead + hexagon.trail).sum() * 6.0 / 4000 / 16
    assert area == pytest.approx(np.sqrt(3) / 2 * 49 - np.pi * 4, rel=1e-4)


@given(offset=st.floats(0.0, 4.9), turned=st.booleans())
def test_a_ray_beside_the_middle_of_a_disk_meets_it_as_much_later_as_it_leaves_it_sooner(
    offset: float, turned: bool
):
    lines = round_lines(10.0, 5.0, np.array([-offset if turned else offset]))
    whole = float((lines.lead + lines.bore + lines.trail)[0])
    assert 2 * float(lines.late[0]) + whole == pytest.approx(10.0)


@given(offset=st.floats(0.0, 3.4))
def test_a_ray_meets_a_hexagon_after_its_foremost_corner(offset: float):
    lines = hexagon_lines(7.0, 4.0, np.array([offset]))
    corners = np.arange(6) * np.pi / 3
    assert np.all(lines.late >= 0.0)
    assert np.all(lines.late <= 7.0 / np.sqrt(3.0) + 1e-9)
    # Over all turns a hexagon is as long ahead of its middle as behind it.
    ahead = np.array(
        [7.0 / np.sqrt(3.0) * np.sin(corners + np.pi / 6 + turn).max() for turn in _turns()]
    )
    entry = ahead - lines.late
    whole = lines.lead + lines.bore + lines.trail
    assert entry.mean() == pytest.approx(whole.mean() / 2, abs=0.05)


def test_modes_of_a_washer_begin_later_the_farther_beside_its_middle():
    signature = signature_of(WASHER, ray=True)
    assert signature is not None
    for mode in signature.modes:
        assert mode.even
        assert mode.lead == pytest.approx((10.0 - mode.whole) / 2, abs=1e-9)
        assert mode.lead_sigma < 0.1
    assert max(mode.lead for mode in signature.modes) > 3.0
    curtain = signature_of(WASHER, ray=False)
    assert curtain is not None
    assert [(mode.lead, mode.even) for mode in curtain.modes] == [(0.0, False)]


def test_a_nut_is_not_quite_as_even():
    signature = signature_of(NUT, ray=True)
    assert signature is not None
    assert all(mode.lead_sigma > 0.05 for mode in signature.modes)


def test_what_was_taught_of_a_round_part_begins_by_its_length():
    keys = taught_keys(scale=4.0, length=10.0, area=58.0, gyration=2.8)
    keys["beam"] = {
        "parts": 20,
        "pulse_mm": {"median": 8.0, "mad": 0.5, "p05": 6.0, "p95": 10.0},
        "one_pulse": {"parts": 20, "chance": 1.0, "low": 0.8, "high": 1.0},
        "two_pulses": {"parts": 0, "chance": 0.0, "low": 0.0, "high": 0.2},
        "unseen": {"parts": 0, "chance": 0.0, "low": 0.0, "high": 0.2},
        "modes": [{"chance": 1.0, "darks_mm": [8.0], "sigma_mm": 0.5}],
    }
    for shape, lead in (("washer", 1.0), ("screw", 0.0)):
        signature = signature_of(Part.model_validate({"shape": shape, "taught": keys}))
        assert signature is not None
        assert [mode.lead for mode in signature.modes] == pytest.approx([lead], abs=0.05)
