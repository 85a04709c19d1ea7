"""Files of strokes: what is read, and what is refused with its row and column."""

from pathlib import Path

import numpy as np
import pytest

from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import SourceError

PLAIN = "direction,begins_ms,done_ms\n"
FULL = "direction,first_motion_ms,begins_ms,done_ms\n"


def read(path: Path, text: str):  # type: ignore[no-untyped-def]
    path.write_text(text, encoding="utf-8")
    return read_strokes(path)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "strokes.csv"


def test_both_directions_stand_apart_and_rows_together(path: Path) -> None:
    found = read(
        path,
        f"# 24 V\n\n{FULL}shut,3.1,8.2,12.4\nopen,,2.0,9.25\n# warm from here\n"
        " shut , 3 , 9 , 13. \n",
    )
    assert found.shutting.begins_s == pytest.approx([8.2e-3, 9e-3])
    assert found.shutting.done_s == pytest.approx([12.4e-3, 13e-3])
    assert found.shutting.first_motion_s == pytest.approx([3.1e-3, 3e-3])
    assert found.opening is not None
    assert found.opening.done_s == pytest.approx([9.25e-3])
    assert np.isnan(found.opening.first_motion_s).all()


def test_how_well_the_times_are_known_may_be_stated(path: Path) -> None:
    assert read(path, f"# sigma_ms 0.25\n{PLAIN}shut,8,12\n").sigma_s == pytest.approx(2.5e-4)
    assert read(path, f"# warm\n{PLAIN}shut,8,12\n").sigma_s == 0.0
    with pytest.raises(SourceError, match="sigma_ms is 'x'"):
        read(path, f"# sigma_ms x\n{PLAIN}shut,8,12\n")


def test_first_motion_may_be_left_out(path: Path) -> None:
    found = read(path, f"\ufeff{PLAIN}shut,0,0\n")
    assert len(found.shutting) == 1
    assert np.isnan(found.shutting.first_motion_s).all()
    assert found.opening is None


@pytest.mark.parametrize(
    ("text", "found", "where"),
    [
        ("", "without a header", ""),
        ("shut,8,12\n", "no header", ":1"),
        ("direction;begins_ms;done_ms\n", "no header", ":1"),
        ("begins_ms,direction,done_ms\n", "no header", ":1"),
        (PLAIN, "no stroke that shuts", ""),
        (f"{PLAIN}open,8,12\n", "no stroke that shuts", ""),
        (f"{PLAIN}shut,8\n", "2 columns", ":2"),
        (f"{PLAIN}shut,8,2,12,4\n", "5 columns", ":2"),
        (f"{PLAIN}close,8,12\n", "direction is 'close'", ":2"),
        (f"{PLAIN}shut,8,12\n\nshut,x,12\n", "begins_ms is 'x'", ":4"),
        (f"{PLAIN}shut,8,\n", "done_ms is ''", ":2"),
        (f"{PLAIN}shut,-1,12\n", "begins_ms is '-1'", ":2"),
        (f"{PLAIN}shut,8,nan\n", "done_ms is 'nan'", ":2"),
        (f"{PLAIN}shut,8,1e3\n", "done_ms is '1e3'", ":2"),
        (f"{PLAIN}shut,8,60001\n", "done_ms is '60001'", ":2"),
        (f"{PLAIN}shut,12,8\n", "begins_ms 12 comes after done_ms 8", ":2"),
        (f"{FULL}shut,9,8,12\n", "first_motion_ms 9 comes after begins_ms 8", ":2"),
    ],
)
def test_what_is_no_stroke_is_refused(path: Path, text: str, found: str, where: str) -> None:
    with pytest.raises(SourceError, match=found) as caught:
        read(path, text)
    assert caught.value.where == f"{path}{where}"
    assert caught.value.allowed


def test_a_file_that_cannot_be_read(path: Path) -> None:
    with pytest.raises(SourceError, match="cannot be read"):
        read_strokes(path)
    path.write_bytes(b"direction,\xff\xfe")
    with pytest.raises(SourceError, match="no text in UTF-8"):
        read_strokes(path)


def test_the_example_of_the_readme_is_one(path: Path) -> None:
    readme = Path(__file__).parents[4] / "README.md"
    block = readme.read_text(encoding="utf-8").split("```text\n# gate", 1)[1].split("```", 1)[0]
    found = read(path, f"# gate{block}")
    assert (len(found.shutting), found.opening is not None) == (2, True)
