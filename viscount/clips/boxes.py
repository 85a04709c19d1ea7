"""The top-level boxes of an MP4 or QuickTime file: is it whole, and has it an index?

Source of the layout: ISO/IEC 14496-12, "Object structure": a 32-bit big-endian size, four
letters, then the content. Size 1 announces a 64-bit size, size 0 runs to the end of the file.
"""

import os
from dataclasses import dataclass
from pathlib import Path

_FIRST_KINDS = frozenset({b"ftyp", b"styp", b"moov", b"mdat", b"free", b"skip", b"wide"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """What a walk from box to box found.

    Attributes
    ----------
    kinds : the four-letter names met.
    whole : the last box ends exactly where the file ends.
    """

    kinds: frozenset[bytes]
    whole: bool

    @property
    def indexed(self) -> bool:
        """Whether there is a `moov` box, without which nothing can be decoded."""
        return b"moov" in self.kinds


def read_boxes(path: Path) -> Boxes | None:
    """Walk over the boxes of `path`; None where it does not begin like an MP4 file."""
    end = path.stat().st_size
    kinds: set[bytes] = set()
    at = 0
    with path.open("rb") as file:
        while at < end:
            file.seek(at, os.SEEK_SET)
            head = file.read(16)
            kind = head[4:8]
            if at == 0 and kind not in _FIRST_KINDS:
                return None
            if len(head) < 8:
                return Boxes(kinds=frozenset(kinds), whole=False)
            kinds.add(kind)
            size = int.from_bytes(head[:4], "big")
            if size == 1:
                size = int.from_bytes(head[8:16], "big")
            if size == 0:
                return Boxes(kinds=frozenset(kinds), whole=True)
            if size < 8:
                return Boxes(kinds=frozenset(kinds), whole=False)
            at += size
    return Boxes(kinds=frozenset(kinds), whole=at == end)
