"""Outlets and parts that are loaded already or named by their files, with what marks the file."""

import hashlib
from pathlib import Path

from viscount.errors import OutletError
from viscount.outlet.loading import load_outlet, load_part
from viscount.outlet.part import Part
from viscount.outlet.settings import Outlet
from viscount.tally import FileMark


def marked_outlet(outlet: str | Path | Outlet | None) -> tuple[Outlet, FileMark | None]:
    """Return an outlet, and the mark of its file if it comes from one."""
    if outlet is None:
        return Outlet(), None
    if isinstance(outlet, Outlet):
        return outlet, None
    return load_outlet(outlet), _mark(outlet)


def marked_part(part: str | Path | Part | None) -> tuple[Part | None, FileMark | None]:
    """Return a part, and the mark of its file if it comes from one."""
    if part is None or isinstance(part, Part):
        return part, None
    return load_part(part), _mark(part)


def in_file(error: OutletError, mark: FileMark | None) -> OutletError:
    """Return an error about an outlet with the file that it comes from."""
    place = f"{mark.name}: {error.where}" if mark else error.where
    return OutletError(error.found, where=place, allowed=error.allowed, remedy=error.remedy)


def _mark(path: str | Path) -> FileMark:
    data = Path(path).read_bytes()
    return FileMark(name=str(path), sha256=hashlib.sha256(data).hexdigest())
