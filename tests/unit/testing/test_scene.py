import numpy as np
import pytest

from viscount.testing.scene import BACKGROUND, Bar, Film, Part, Ring, bar, screw, washer
from viscount.values import Blob, Falls


def centroid(weights):
    rows, columns = np.indices(weights.shape)
    return np.average(rows, weights=weights), np.average(columns, weights=weights)


@pytest.mark.parametrize("along", [30.0, 30.25, 30.5, 30.83])
@pytest.mark.parametrize("draw", [bar, screw, washer])
def test_a_part_is_drawn_with_the_area_and_centre_it_states(draw, along):
    part = draw(along, 40.37, 40.0)
    cover = sum(shape.coverage((120, 90)) for shape in part.shapes)
    assert cover.max() <= 1 + 1e-12
    assert cover.sum() == pytest.approx(part.area, rel=2e-3)
    assert centroid(cover) == pytest.approx(part.centre, abs=0.01)


def test_a_bar_cut_by_the_border_covers_only_what_is_inside():
    # The border of the picture lies at -0.5: 3 of 6 px are inside.
    cover = Bar(along=-0.5, across=10, length=6, width=2).coverage((20, 20))
    assert cover.sum() == pytest.approx(3 * 2)


def test_the_area_of_a_ring_leaves_its_bore_out():
    ring = Ring(along=30, across=30, outer=20, inner=8)
    assert ring.area == pytest.approx(1055.58, abs=0.01)  # pi (20² - 8²), by hand
    assert ring.coverage((61, 61))[30, 30] == 0


def test_inside_by_is_the_least_distance_from_the_border():
    part = Part(shapes=[Bar(along=9.5, across=20, length=10, width=4)], grey=0)
    assert part.inside_by((100, 100)) == 5.0
    assert part.inside_by((12, 100)) == -3.0


@pytest.mark.parametrize("falls", list(Falls))
def test_pictures_are_turned_and_positions_turned_back(falls):
    film = Film(falls, (81, 51), noise=0.0)
    part = bar(20.0, 18.0, 0.0)
    pixels = film.frame(part).pixels
    assert pixels.shape == ((81, 51) if falls.vertical else (51, 81))
    rows, columns = np.nonzero(pixels < 50)
    y, x = rows.mean(), columns.mean()
    box = tuple(int(v) for v in (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1))
    blob = Blob(
        x_px=float(x), y_px=float(y), sigma_x_px=1, sigma_y_px=1, area_px=1, box=box,
        moments=(1, 0, 1), profile=np.arange(3, dtype=np.uint16), cut_by_edge=False,
    )  # fmt: skip
    # Upstream is where the part is: near the top, bottom, right or left of the picture.
    upstream = {Falls.DOWN: y < 40, Falls.UP: y > 40, Falls.RIGHT: x < 40, Falls.LEFT: x > 40}
    assert upstream[falls]
    assert film.centre(blob) == pytest.approx(part.centre, abs=0.7)
    assert film.extent(blob) == pytest.approx(part.extent, abs=0.6)
    assert list(film.profile(blob)) == ([0, 1, 2] if falls.sign > 0 else [2, 1, 0])


def test_frames_are_read_only_seeded_and_noisy_as_stated():
    first, again = (Film(Falls.DOWN).frame().pixels for _ in range(2))
    assert np.array_equal(first, again)
    assert not first.flags.writeable
    assert first.mean() == pytest.approx(BACKGROUND, abs=0.5)
    film = Film(Falls.DOWN)
    difference = film.frame().pixels.astype(float) - film.frame().pixels
    # Two frames of noise sigma 2, each rounded to whole levels (variance 1/12).
    assert difference.std() == pytest.approx(np.sqrt(2 * (4 + 1 / 12)), rel=0.02)


def test_indices_and_times_are_no_count_of_calls():
    film = Film(Falls.DOWN, (21, 11))
    frames = [film.frame() for _ in range(8)]
    assert [frame.index for frame in frames] == [5, 6, 7, 8, 10, 11, 12, 13]
    assert (np.diff([frame.t_ns for frame in frames]) > 0).all()
