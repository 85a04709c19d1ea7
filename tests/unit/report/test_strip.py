"""The line strip, judged by whether it can be recounted: against simulated truth.

The counting is left out on purpose: strips are drawn from a tally that knows the truth, so that
what they show rests on the pixels alone.
"""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scenes import ANNULUS, Shot, field_scene
from scipy import ndimage
from tallies import passage, tally, true_tally

from viscount.codes import Code
from viscount.errors import ExitStatus
from viscount.outlet import CameraSettings, Outlet, Readout, ViewSettings
from viscount.report import sheet
from viscount.report import strip as strip_module
from viscount.report.film import Picture
from viscount.report.layout import Placed
from viscount.report.marks import Mark
from viscount.report.strip import LineStrip, StripError
from viscount.simulate.scene import FreeFall
from viscount.tally import Assumption, Tally
from viscount.values import Falls, Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a strip: its pixels, and its marks by x."""

    grey: NDArray[np.uint8]
    marks: dict[float, Mark]
    quiet: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A strip before it is drawn, and as it is drawn."""

    rows: list[Row]
    placed: list[Placed]
    pictures: list[Picture]
    ends_s: float | None
    drawn: NDArray[np.uint8]


def outlet_of(shot: Shot) -> Outlet:
    view, camera = shot.scene.view, shot.scene.camera
    return Outlet(
        view=ViewSettings(falls=view.falls, line_px=view.line_px),
        camera=CameraSettings(
            line_time_us=camera.line_time_us, readout=Readout(str(camera.readout))
        ),
    )


def watched(shot: Shot, **options: Any) -> LineStrip:
    """A strip that has seen all frames of a shot."""
    strip = LineStrip(**options)
    strip.start(outlet_of(shot), shot.scene.view.line_px, len(shot.frames))
    for frame in shot.frames:
        strip.frame(frame)
    return strip


def page_of(strip: LineStrip, made: Tally, monkeypatch: pytest.MonkeyPatch) -> Page:
    seen: dict[str, Any] = {}
    real = strip_module.drawn_sheet

    def listening(
        tally: Tally,
        placed: list[Placed],
        pictures: list[Picture],
        marks: list[Mark],
        *,
        ends_s: float | None,
    ) -> NDArray[np.uint8]:
        seen.update(placed=placed, pictures=pictures, marks=marks, ends_s=ends_s)
        return real(tally, placed, pictures, marks, ends_s=ends_s)

    monkeypatch.setattr(strip_module, "drawn_sheet", listening)
    drawn = strip.picture(made)
    assert drawn is not None
    rows = []
    for number in range(seen["placed"][-1].row + 1):
        pieces = [
            (one, picture)
            for one, picture in zip(seen["placed"], seen["pictures"], strict=True)
            if one.row == number
        ]
        marks = {
            one.x_px(mark.t_s): mark
            for one, _ in pieces
            for mark in seen["marks"]
            if one.piece.start_s <= mark.t_s < one.piece.end_s
        }
        rows.append(
            Row(
                grey=np.concatenate([picture.grey for _, picture in pieces], axis=1),
                marks=marks,
                quiet=np.concatenate([np.full(o.piece.width_px, o.piece.quiet) for o, _ in pieces]),
            )
        )
    return Page(
        rows=rows,
        placed=seen["placed"],
        pictures=seen["pictures"],
        ends_s=seen["ends_s"],
        drawn=drawn,
    )


def regions(row: Row, dark: bool = True) -> list[tuple[slice, slice]]:
    """The connected regions that stand out of a row's picture, each as its box."""
    usual = np.median(row.grey)
    off = (usual - row.grey.astype(float)) * (1 if dark else -1)
    labels, _ = ndimage.label(off > 0.5 * off.max(), structure=np.ones((3, 3)))
    return list(ndimage.find_objects(labels))


def recounted(page: Page, tolerance_px: float = 2.0, dark: bool = True) -> int:
    """Count the regions, and assert that each lies where its own mark says."""
    total = 0
    for row in page.rows:
        found = sorted(
            ((along.start + along.stop) / 2, (across.start + across.stop) / 2)
            for across, along in regions(row, dark)
        )
        assert [x for x, _ in found] == pytest.approx(sorted(row.marks), abs=tolerance_px)
        marked = [page.pictures[0].y_px(row.marks[x].across_px) for x in sorted(row.marks)]
        assert [y for _, y in found] == pytest.approx(marked, abs=tolerance_px)
        total += len(found)
    return total


@pytest.mark.parametrize("falls", Falls)
@pytest.mark.parametrize("fps", [60.0, 120.0, 240.0])
def test_each_part_shows_once_under_its_mark(
    falls: Falls, fps: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 60 frames a second parts move by 100 px from frame to frame, six times their gap."""
    size = {"width_px": 120, "height_px": 320} if falls.vertical else {"width_px": 320}
    made = field_scene(falls=falls, fps=fps, parts=9, pitch_ms=8.0, line_px=150.0, **size)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert recounted(page) == made.truth.crossed == 9


def test_parts_keep_their_shape(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts of 32 x 16 px, with a margin for the blur between two grey levels."""
    made = field_scene(parts=7, pitch_ms=17.0)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    for row in page.rows:
        for across, along in regions(row):
            ratio = (along.stop - along.start) / (across.stop - across.start)
            assert ratio == pytest.approx(2.0, rel=0.12)


def test_a_washer_is_one_ring(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=5, pitch_ms=21.0, part=ANNULUS, part_grey=200.0, background_grey=60.0)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert recounted(page, dark=False) == 5
    for row in page.rows:
        bright = row.grey > 130
        _, regions_and_holes = ndimage.label(~bright)
        assert regions_and_holes == 1 + len(row.marks)


@pytest.mark.parametrize("readout", ["down", "up", "left", "right"])
def test_marks_stand_over_their_parts_under_a_rolling_shutter(
    readout: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The readout of 160 lines takes 6.4 ms: 38 px of fall, more than a part is long."""
    made = field_scene(parts=6, pitch_ms=19.0, readout=readout, line_time_us=40.0)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert recounted(page) == 6


def test_a_fall_that_gathers_speed_leaves_no_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    """At 50 frames a second parts gain 16 px a frame in each frame.

    A part of 32 px takes 32 px / v to pass the line, wherever frames begin and end.
    """
    made = field_scene(
        parts=12, pitch_ms=31.0, fps=50.0, free_fall=FreeFall(), height_px=600, line_px=300.0
    )
    known = true_tally(made.truth)
    learned = Assumption(code=Code.ACCELERATION_LEARNED, text="g", value=9806.65 * 4, unit="px/s²")
    page = page_of(watched(made), replace(known, assumed=(learned,)), monkeypatch)
    assert recounted(page) == 12
    piece = next(one.piece for one in page.placed if not one.piece.quiet)
    rate_px_s = piece.width_px / (piece.end_s - piece.start_s)
    passed_px = 32.0 / known.passages[0].passage.speed_px_s * rate_px_s
    lengths = [box[1].stop - box[1].start for row in page.rows for box in regions(row)]
    assert lengths == pytest.approx([passed_px] * 12, abs=1.5)


def test_a_part_that_was_not_counted_still_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    times = [0.0, 25.0, 50.0, 700.0, 1400.0, 1425.0, 1450.0]
    made = field_scene(times_ms=times)
    known = true_tally(made.truth)
    missed = replace(known, passages=known.passages[:3] + known.passages[4:])
    page = page_of(watched(made), missed, monkeypatch)
    assert sum(len(row.marks) for row in page.rows) == 6
    quiet = [box for row in page.rows for box in regions(row) if row.quiet[box[1]].all()]
    assert len(quiet) == 1
    across, along = quiet[0]
    assert along.stop - along.start >= 3
    assert across.stop - across.start >= 10


def test_where_nothing_was_counted_every_frame_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=4, pitch_ms=50.0)
    page = page_of(watched(made), tally(()), monkeypatch)
    (row,) = page.rows
    assert len(regions(row)) == 4
    assert row.grey.shape[1] >= len(made.frames)


def test_a_long_run_without_a_count_is_drawn_closer_and_hides_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("viscount.report.layout._EMPTY_ROWS", 1)
    for module in ("layout", "strip"):
        monkeypatch.setattr(f"viscount.report.{module}.ROW_PX", 100)
    made = field_scene(fps=960.0, times_ms=[0.0, 200.0, 400.0], height_px=60, line_px=30.0)
    assert len(made.frames) > 400
    page = page_of(watched(made), tally(()), monkeypatch)
    assert sum(len(regions(row)) for row in page.rows) == 3


def test_pieces_without_a_frame_are_told_from_the_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=20, dropped=range(20, 30))
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    unseen_s = 0.0
    for one, picture in zip(page.placed, page.pictures, strict=True):
        share = 1 - picture.seen.mean()
        unseen_s += share * (one.piece.end_s - one.piece.start_s)
    # Ten frames are missing; either neighbour still shows what passed within a quarter of the view.
    assert unseen_s == pytest.approx(11 / 120 - 2 * 40 / 6000, abs=0.003)


def test_one_missing_frame_hides_no_part(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=12, dropped=(10, 22), height_px=320, line_px=160.0)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert recounted(page) == 12
    assert all(picture.seen.all() for picture in page.pictures)


def test_a_picture_that_is_shown_again_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=12, repeated=(10, 22), height_px=320, line_px=160.0)
    again = [replace(f, repeated=f.index in (70, 82)) for f in made.frames]
    assert (again[70].pixels == again[69].pixels).all()
    page = page_of(watched(replace(made, frames=again)), true_tally(made.truth), monkeypatch)
    assert recounted(page) == 12


@pytest.mark.parametrize(("limit", "step"), [(1_000_000, 2), (250_000, 4)])
def test_memory_is_bounded_and_the_strip_still_recountable(
    limit: int, step: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = field_scene(parts=60, pitch_ms=16.0, part_grey=20.0)
    strip = watched(made, limit_bytes=limit)
    page = page_of(strip, true_tally(made.truth), monkeypatch)
    bands = strip._bands
    assert bands is not None
    assert bands.step == step
    assert sum(band.nbytes for band in bands._bands) <= limit
    assert bands.whole
    assert recounted(page, tolerance_px=6.0) == 60


def test_a_strip_that_is_full_says_where_it_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=60, pitch_ms=16.0)
    strip = watched(made, limit_bytes=8_000)
    page = page_of(strip, true_tally(made.truth), monkeypatch)
    assert page.ends_s is not None
    assert page.ends_s < made.frames[-1].t_ns * 1e-9 - 0.1
    complete = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert complete.ends_s is None


def test_a_page_has_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(strip_module, "MOST_ROWS", 2)
    made = field_scene(parts=60, pitch_ms=16.0)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert len(page.rows) == 2
    assert page.ends_s == page.placed[-1].piece.end_s


def test_frames_are_copied() -> None:
    made = field_scene(parts=3)
    plain = watched(made).picture(true_tally(made.truth))
    strip = LineStrip()
    strip.start(outlet_of(made), 80.0, None)
    buffer = np.empty_like(made.frames[0].pixels)
    for frame in made.frames:
        buffer[:] = frame.pixels
        strip.frame(replace(frame, pixels=buffer))
    reused = strip.picture(true_tally(made.truth))
    assert plain is not None
    assert reused is not None
    assert (plain == reused).all()


def test_times_count_from_the_first_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=5)
    later = [replace(frame, t_ns=frame.t_ns + 7_000_000_000) for frame in made.frames]
    page = page_of(watched(replace(made, frames=later)), true_tally(made.truth), monkeypatch)
    assert recounted(page) == 5


@pytest.mark.parametrize("frames", [1, 2, 3])
def test_very_short_runs(frames: int) -> None:
    strip = LineStrip()
    strip.start(Outlet(), 20.0, None)
    for index in range(frames):
        strip.frame(Frame(index=index, t_ns=index * 8_000_000, pixels=np.zeros((40, 50), np.uint8)))
    assert strip.picture(tally(())) is not None
    assert strip.picture(tally((0.004,))) is not None


def test_a_line_at_the_very_edge() -> None:
    for line in (0.0, 39.0, 0.5):
        strip = LineStrip()
        strip.start(Outlet(view=ViewSettings(line_px=line)), line, None)
        for index in range(9):
            pixels = np.zeros((40, 50), np.uint8)
            strip.frame(Frame(index=index, t_ns=index * 8_000_000, pixels=pixels))
        assert strip.picture(tally((0.03,))) is not None


def test_parts_side_by_side_have_dots(monkeypatch: pytest.MonkeyPatch) -> None:
    """In three lanes over 400 px; the dots are ringed with white on grey 100."""
    made = field_scene(parts=9, pitch_ms=7.0, lanes_px=(-120.0, 10.0, 150.0), width_px=400)
    page = page_of(watched(made), true_tally(made.truth), monkeypatch)
    assert recounted(page) == 9
    height = page.pictures[0].grey.shape[0]
    pitch = sheet._MARKS + height + sheet._RULER + sheet._GAP
    rings = 0
    for number, row in enumerate(page.rows):
        top = sheet._TITLE + number * pitch + sheet._MARKS
        shown = page.drawn[top : top + height, sheet._MARGIN :][:, : row.grey.shape[1]]
        white = (shown > 230).all(axis=2)
        rings += ndimage.label(white, structure=np.ones((3, 3)))[1]
        for x, mark in row.marks.items():
            y = page.pictures[0].y_px(mark.across_px)
            assert white[round(y) - 5 : round(y) + 6, round(x) - 5 : round(x) + 6].any()
    assert rings == 9


def test_only_the_region_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    made = field_scene(parts=4, lanes_px=(-40.0, 0.0), pitch_ms=25.0)
    known = true_tally(made.truth)
    inside = replace(known, passages=known.passages[1::2])
    strip = LineStrip()
    view = ViewSettings(line_px=80.0, region_px=(40, 10, 120, 150))
    strip.start(Outlet(view=view), 80.0, None)
    for frame in made.frames:
        strip.frame(frame)
    page = page_of(strip, inside, monkeypatch)
    assert sum(len(regions(row)) for row in page.rows) == 2


def test_write(tmp_path: Path) -> None:
    made = field_scene(parts=3)
    path = tmp_path / "strip.png"
    path.write_bytes(b"older")
    watched(made).write(true_tally(made.truth), path)
    picture = cv2.imread(str(path))
    assert picture is not None
    assert picture.shape[1] == 1228
    assert [p.name for p in tmp_path.iterdir()] == ["strip.png"]


def test_write_without_a_frame(tmp_path: Path) -> None:
    with pytest.raises(StripError, match="no frame was seen"):
        LineStrip().write(tally(()), tmp_path / "strip.png")
    assert list(tmp_path.iterdir()) == []


def test_write_where_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = field_scene(parts=1)
    path = tmp_path / "strip.png"
    path.write_bytes(b"older")

    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(StripError, match="No space left on device") as caught:
        watched(made).write(true_tally(made.truth), path)
    assert caught.value.exit_status is ExitStatus.INVALID
    assert [p.name for p in tmp_path.iterdir()] == ["strip.png"]
    assert path.read_bytes() == b"older"


def test_passages_against_the_fall_and_without_parts_do_no_harm() -> None:
    made = field_scene(parts=5)
    known = true_tally(made.truth)
    odd = (passage(8, 0.6, parts=0), passage(9, 0.61, speed_px_s=-3.0, length_px=None))
    assert watched(made).picture(replace(known, passages=known.passages + odd)) is not None
