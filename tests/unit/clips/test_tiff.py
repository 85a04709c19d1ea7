"""The chain of pages in a TIFF file, in both byte orders and both widths."""

import struct
from pathlib import Path

import pytest

from viscount.clips.tiff import read_page_chain


def chain(order: str, big: bool, places: list[int]) -> bytes:
    """A file of empty page directories; the last place is what the last one points to."""
    word, head = ("Q", 16) if big else ("I", 8)
    mark = b"II" if order == "<" else b"MM"
    if big:
        data = mark + struct.pack(f"{order}HHHQ", 43, 8, 0, head)
    else:
        data = mark + struct.pack(f"{order}HI", 42, head)
    for place in places:
        data += struct.pack(f"{order}{'Q' if big else 'H'}", 0) + struct.pack(order + word, place)
    return data


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("big", "first", "step"), [(False, 8, 6), (True, 16, 16)])
def test_chains(tmp_path: Path, order: str, big: bool, first: int, step: int) -> None:
    path = tmp_path / "stack.tif"
    second, third = first + step, first + 2 * step
    for places, pages, whole in [
        ([0], 1, True),
        ([second, third, 0], 3, True),
        ([second, third, 5000], 3, False),  # cut off
        ([second, first], 2, False),  # in a circle
    ]:
        path.write_bytes(chain(order, big, places))
        found = read_page_chain(path)
        assert found is not None
        assert (found.pages, found.whole) == (pages, whole)


@pytest.mark.parametrize(
    "data", [b"", b"II", b"II\x2a\x00", b"\x89PNG\r\n\x1a\n", b"II\x2c\x00abcd"]
)
def test_what_is_no_tiff(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "other"
    path.write_bytes(data)
    assert read_page_chain(path) is None
