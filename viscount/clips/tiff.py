"""The chain of pages in a TIFF file: how many there are, and does the chain end as it should?

Source of the layout: TIFF revision 6.0, section 2. The head names the place of the first page's
directory; each directory ends with the place of the next, 0 after the last. BigTIFF has wider
fields.
"""

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

_ORDERS = {b"II": "<", b"MM": ">"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PageChain:
    """What a walk along the chain found; `whole` where it ends with the mark of the end."""

    pages: int
    whole: bool


def read_page_chain(path: Path) -> PageChain | None:
    """Walk along the pages of `path`; None where it is no TIFF file."""
    with path.open("rb") as file:
        head = file.read(8)
        order = _ORDERS.get(head[:2])
        if order is None or len(head) < 8:
            return None
        version = struct.unpack(f"{order}H", head[2:4])[0]
        if version == 42:
            place = struct.unpack(f"{order}I", head[4:])[0]
            return _walk(file, place, f"{order}H", 12, f"{order}I")
        if version == 43:
            place = _number(file, f"{order}Q") or 0
            return _walk(file, place, f"{order}Q", 20, f"{order}Q")
    return None


def _walk(file: BinaryIO, place: int, count: str, entry_bytes: int, next_place: str) -> PageChain:
    visited: set[int] = set()
    while place and place not in visited:
        file.seek(place)
        entries = _number(file, count)
        if entries is None:
            return PageChain(pages=len(visited), whole=False)
        visited.add(place)
        file.seek(entries * entry_bytes, 1)
        following = _number(file, next_place)
        if following is None:
            return PageChain(pages=len(visited), whole=False)
        place = following
    return PageChain(pages=len(visited), whole=place == 0)


def _number(file: BinaryIO, form: str) -> int | None:
    data = file.read(struct.calcsize(form))
    return int(struct.unpack(form, data)[0]) if len(data) == struct.calcsize(form) else None
