"""The light on solids: which face is seen, and how bright it is."""

import math

import numpy as np
import pytest

from viscount.simulate.demo import M4X12
from viscount.simulate.scene import AnyPart, Ball, Box, Nut, Screw, Washer
from viscount.simulate.solids import projected, rotation_at_rest
from viscount.simulate.solids.shading import LIGHT

SCALE = 4.0
LIT = {"shading_grey": 60.0}
GLOSSY = {"gloss_grey": 100.0}
HEADS = ["cylinder", "hexagon", "dome"]


def screw(head: str, **surface: float) -> Screw:
    return M4X12.model_copy(update={"head": head, **surface})


def lean(tilt_deg: float) -> np.ndarray:
    """Positive: what leads comes towards the camera."""
    t = math.radians(tilt_deg)
    return np.array([[math.cos(t), 0, -math.sin(t)], [0, 1, 0], [math.sin(t), 0, math.cos(t)]])


def greys(part: AnyPart, rotation: np.ndarray, u: object, v: object) -> np.ndarray:
    view = projected(part, rotation @ rotation_at_rest(part), SCALE)
    assert view.shading is not None
    at = np.broadcast_arrays(np.asarray(u, dtype=np.float32), np.asarray(v, dtype=np.float32))
    return view.shading.grey(*at)


def lambert(along: float, across: float, depth: float) -> float:
    """60 grey times the cosine between a face's normal and the light (Lambert, from memory)."""
    light = np.array(LIGHT) / np.linalg.norm(LIGHT)
    return 60.0 * max(float(light @ [along, across, depth]), 0.0)


def test_the_light_is_above_the_camera_and_to_its_right() -> None:
    along, across, depth = LIGHT
    assert along < 0 < across
    assert depth > 0
    assert np.linalg.norm(LIGHT) == pytest.approx(1.0)


def test_without_shading_or_gloss_there_is_no_light() -> None:
    assert projected(M4X12, rotation_at_rest(M4X12), SCALE).shading is None


@pytest.mark.parametrize(
    "part",
    [
        *(screw(head, **LIT) for head in HEADS),
        Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0, **LIT),
        Washer(diameter_mm=9.0, thickness_mm=0.8, bore_mm=4.3, **LIT),
        Ball(diameter_mm=6.0, **LIT),
        Box(along_mm=8.0, across_mm=4.0, **LIT),
    ],
    ids=lambda part: getattr(part, "head", part.shape),
)
@pytest.mark.parametrize("tilt_deg", [0.0, 40.0, 90.0, -40.0, -90.0])
def test_greys_are_single_floats_in_their_range(part: AnyPart, tilt_deg: float) -> None:
    at = np.linspace(-40, 40, 41)
    found = greys(part, lean(tilt_deg), at[:, None], at)
    assert found.dtype == np.float32
    assert found.min() >= 0
    assert found.max() <= 60 + 1e-3


def test_a_screw_is_brightest_on_its_right_flank() -> None:
    found = greys(screw("cylinder", **LIT), np.eye(3), 10.0, np.linspace(-7.0, 7.0, 15))
    assert found.argmax() == pytest.approx(10, abs=1)
    assert 0 <= found.min() < found.max() <= 60.0


def test_glint_of_a_cylinder_is_a_line_along_its_axis() -> None:
    """Everywhere on the shank it is at the same place across, and dark beside it."""
    across = np.linspace(-7.9, 7.9, 159)
    found = greys(screw("cylinder", **GLOSSY), lean(15.0), np.arange(2.0, 24.0)[:, None], across)
    assert np.ptp(found, axis=0).max() < 1e-3
    assert found[0].max() > 60
    assert found[0, 0] < 1
    assert found[0, -1] < 20


def axial(head: str, place_mm: float, tilt_deg: float) -> float:
    """Where on u a place on the screw's axis is seen, from the outer end of its head."""
    part = screw(head)
    centre_mm = projected(part, rotation_at_rest(part)).reach(-1.0, 0.0)
    return (place_mm - centre_mm) * SCALE * math.cos(math.radians(tilt_deg))


def facing(tilt_deg: float) -> float:
    """Grey of a plane face that looks the way in which the part leads."""
    return lambert(math.cos(math.radians(tilt_deg)), 0.0, math.sin(math.radians(tilt_deg)))


@pytest.mark.parametrize("head", ["cylinder", "hexagon"])
@pytest.mark.parametrize("tilt_deg", [-40.0, -70.0, -90.0])
def test_a_head_that_faces_the_camera_hides_the_shank(head: str, tilt_deg: float) -> None:
    """Its face is plane, so that it has one grey all over."""
    ring, radii = np.linspace(0, 2 * math.pi, 24), np.array([[0.0], [5.0], [10.0], [13.0]])
    short = abs(math.sin(math.radians(tilt_deg)))
    u = axial(head, 0.0, tilt_deg) + radii * short * np.cos(ring)
    found = greys(screw(head, **LIT), lean(tilt_deg), u, radii * np.sin(ring))
    away = tilt_deg + 180
    assert found == pytest.approx(facing(away), abs=0.01)


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("tilt_deg", [40.0, 70.0, 90.0])
def test_a_shank_that_faces_the_camera_hides_the_head(head: str, tilt_deg: float) -> None:
    """Its end and the head's underside on both sides of it are plane, and look one way."""
    length, part = M4X12.overall_length_mm, screw(head, **LIT)
    across = np.linspace(-7.0, 7.0, 29)
    end = greys(part, lean(tilt_deg), axial(head, length, tilt_deg), across)
    beside = np.array([-12.0, -9.5, 9.5, 12.0])
    underside = greys(part, lean(tilt_deg), axial(head, 4.0, tilt_deg), beside)
    assert end == pytest.approx(facing(tilt_deg), abs=0.01)
    assert underside == pytest.approx(facing(tilt_deg), abs=0.01)


def test_a_dome_is_lit_as_the_sphere_it_is_cut_from() -> None:
    """From its end: normals (u, v) over the sphere's radius, (r² + h²) / 2h."""
    part = screw("dome", **LIT)
    sphere = (3.5**2 + 4.0**2) / 8.0 * SCALE
    u, v = np.array([-9.0, 0.0, 3.0]), np.array([2.0, 0.0, -8.0])
    found = greys(part, lean(-90.0), u, v)
    depth = np.sqrt(sphere**2 - u**2 - v**2)
    normals = np.column_stack([u, v, depth]) / sphere
    assert found == pytest.approx([lambert(*normal) for normal in normals], abs=0.01)


def test_a_flat_washer_flashes_when_it_faces_half_way_to_the_light() -> None:
    glossy = Washer(diameter_mm=9.0, bore_mm=0.0, thickness_mm=0.8, **GLOSSY)
    flashes = [float(greys(glossy, lean(tilt), [0.0], [0.0])[0]) for tilt in range(0, 60, 2)]
    # The half vector leans 15 degrees up and 11 to the right: never quite met by a tilt alone.
    assert 10 <= 2 * int(np.argmax(flashes)) <= 20
    assert max(flashes) > 50
    assert min(flashes) < 5
