"""The mark of a file that the engine itself has written."""

import hashlib
from pathlib import Path

from viscount.tally import FileMark


def mark_of(path: Path) -> FileMark:
    """Return a file's name with the SHA-256 of its bytes."""
    with path.open("rb") as file:
        return FileMark(name=str(path), sha256=hashlib.file_digest(file, "sha256").hexdigest())
