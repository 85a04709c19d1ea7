"""Writes a file that appears only when it is whole."""

import os
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write a file beside its place, then put it there."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(data)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
