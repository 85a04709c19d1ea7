from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.report.layout import ROW_PX, laid_out, piece_at

PART_S, RATE = 0.01, 4000.0
"""A part is 40 px long."""

moments = st.lists(st.floats(0.0, 30.0), max_size=60).map(sorted)


@given(marks=moments, end=st.floats(0.001, 40.0))
def test_every_moment_has_its_place(marks: list[float], end: float) -> None:
    marks = [t for t in marks if t <= end]
    placed = laid_out(marks, (-0.004, end + 0.004), RATE, PART_S)
    pieces = [one.piece for one in placed]
    # What is narrower than a px may be left out.
    assert pieces[0].start_s == pytest.approx(-0.004, abs=1 / RATE)
    assert pieces[-1].end_s == pytest.approx(end + 0.004, abs=1 / RATE)
    for before, after in pairwise(pieces):
        assert after.start_s - before.end_s == pytest.approx(0, abs=1 / RATE)
    for t in marks:
        one = piece_at(placed, t)
        assert not one.piece.quiet
        assert one.left_px - 1 <= one.x_px(t) <= one.left_px + one.piece.width_px + 1


@given(marks=moments)
def test_rows_are_filled_and_never_too_wide(marks: list[float]) -> None:
    placed = laid_out(marks, (0.0, 30.0), RATE, PART_S)
    for row in range(placed[-1].row + 1):
        pieces = [one for one in placed if one.row == row]
        assert pieces
        right = 0
        for one in pieces:
            assert one.left_px == right
            right += one.piece.width_px
        assert right <= ROW_PX


@given(
    gaps=st.lists(st.floats(1.0, 3.0), min_size=2, max_size=80),
)
def test_no_part_is_cut_at_the_end_of_a_row(gaps: list[float]) -> None:
    """Parts that touch or have a gap; each with half its length on either side of its mark."""
    marks, t = [], 0.1
    for gap in gaps:
        t += gap * PART_S
        marks.append(t)
    placed = laid_out(marks, (0.0, t + 0.1), RATE, PART_S)
    for t in marks:
        head, tail = piece_at(placed, t - 0.49 * PART_S), piece_at(placed, t + 0.49 * PART_S)
        assert head.row == tail.row == piece_at(placed, t).row


def test_quiet_time_is_drawn_closer() -> None:
    placed = laid_out([1.0, 1.02, 9.0], (0.0, 10.0), RATE, PART_S)
    assert [one.piece.quiet for one in placed] == [True, False, False, True, False, True]
    widths = [one.piece.width_px for one in placed]
    assert widths[3] == ROW_PX
    assert widths[0] == pytest.approx(4000 / 20, abs=5)


def test_short_quiet_time_is_drawn_like_the_rest() -> None:
    placed = laid_out([1.0, 1.05], (0.97, 1.1), RATE, PART_S)
    assert not any(one.piece.quiet for one in placed)
    assert sum(one.piece.width_px for one in placed) == pytest.approx(0.13 * RATE, abs=5)


def test_parts_that_overlap_share_a_piece() -> None:
    placed = laid_out([1.0, 1.004, 1.007, 1.03], (0.9, 1.1), RATE, PART_S)
    assert piece_at(placed, 1.0) == piece_at(placed, 1.007)
    assert piece_at(placed, 1.0) != piece_at(placed, 1.03)


def test_a_run_without_marks_is_drawn_at_length() -> None:
    assert [one.piece.width_px for one in laid_out([], (0.0, 0.1), RATE, PART_S)] == [400]
    placed = laid_out([], (0.0, 100.0), RATE, PART_S)
    assert [one.row for one in placed] == list(range(8))
    assert all(one.piece.width_px == ROW_PX and one.piece.quiet for one in placed)
