from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from tallies import passage, tally

from viscount.agreement.result import WORTH_A_LOOK
from viscount.report.film import Picture
from viscount.report.layout import laid_out
from viscount.report.marks import Kind, Mark, marks_of
from viscount.report.sheet import drawn_sheet
from viscount.tally import FrameTally
from viscount.values import Direction


def test_labels_are_where_a_recount_has_got_to() -> None:
    passages = (
        passage(1, 0.1),
        passage(2, 0.2, parts=2),
        passage(3, 0.3, parts=0),
        passage(4, 0.4, direction=Direction.AGAINST),
        passage(5, 0.5, doubt=0.01),
    )
    marks = marks_of(tally(passages=passages))
    assert [mark.label for mark in marks] == ["1", "2-3", "?", "-1", "3"]
    assert [mark.kind for mark in marks] == [
        Kind.COUNTED,
        Kind.COUNTED,
        Kind.NO_PART,
        Kind.AGAINST,
        Kind.DOUBTFUL,
    ]
    assert [mark.t_s for mark in marks] == pytest.approx([0.1, 0.2, 0.3, 0.4, 0.5])


def test_marks_come_in_order_of_time() -> None:
    marks = marks_of(tally(passages=(passage(2, 0.9), passage(1, 0.1))))
    assert [(mark.t_s, mark.label) for mark in marks] == [(0.1, "1"), (0.9, "2")]


def test_doubt_begins_where_the_tally_names_places() -> None:
    at, above = (
        marks_of(tally(passages=(passage(1, 0.1, doubt=doubt),)))[0].kind
        for doubt in (WORTH_A_LOOK, WORTH_A_LOOK * 1.001)
    )
    assert (at, above) == (Kind.COUNTED, Kind.DOUBTFUL)


PLACED = laid_out([0.1], (0.0, 0.2), 400.0, 0.1)
PICTURES = [
    Picture(
        grey=np.full((20, one.piece.width_px), 200, np.uint8),
        seen=np.ones(one.piece.width_px, dtype=bool),
    )
    for one in PLACED
]


def sheet(*marks: Mark, **more: object) -> NDArray[np.uint8]:
    return drawn_sheet(tally(()), PLACED, PICTURES, marks, **more)  # type: ignore[arg-type]


def test_kinds_differ_in_shape_and_not_in_colour_only() -> None:
    bare = sheet(Mark(t_s=-9.0, label="", kind=Kind.COUNTED))
    shapes = {}
    for kind in Kind:
        drawn = sheet(Mark(t_s=0.1, label="", kind=kind))
        shapes[kind] = np.any(drawn != bare, axis=2)[36:70]
        assert shapes[kind].any()
    for one, other in combinations(Kind, 2):
        assert (shapes[one] ^ shapes[other]).sum() > 10, (one, other)


def test_labels_that_would_run_into_each_other_stand_on_two_levels() -> None:
    marks = [Mark(t_s=0.1 + 0.01 * k, label="88", kind=Kind.COUNTED) for k in range(2)]
    apart = [Mark(t_s=0.05 + 0.1 * k, label="88", kind=Kind.COUNTED) for k in range(2)]
    dark = [np.flatnonzero((sheet(*some)[:66] < 128).any(axis=(1, 2))) for some in (marks, apart)]
    # The first rows with ink below the title.
    first = [rows[rows > 32][0] for rows in dark]
    assert first[0] == first[1] - 10


def test_the_page_says_where_it_ends_and_where_it_was_blind() -> None:
    plain = sheet()
    assert (plain != sheet(ends_s=0.2)).any()
    frames = FrameTally(read=9, lost=0, repeated=0, damaged=0, rate_hz=100.0, blind=((0.05, 0.1),))
    blind = drawn_sheet(replace(tally(()), frames=frames), PLACED, PICTURES, ())
    red = (blind[:, :, 2] > 180) & (blind[:, :, 0] < 80)
    assert red.sum() > 40


def test_what_no_frame_saw_is_hatched() -> None:
    unseen = [replace(p, seen=np.zeros_like(p.seen)) for p in PICTURES]
    page = drawn_sheet(tally(()), PLACED, unseen, ())
    assert len(np.unique(page[72:88, 20:80])) == 4


def test_a_name_of_any_letters_is_no_hindrance() -> None:
    assert drawn_sheet(tally((), source="Größe→\udcff.mp4"), PLACED, PICTURES, ()).any()
