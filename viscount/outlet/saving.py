"""Writing an outlet file: whole, or not at all."""

import contextlib
import os
import shutil
from pathlib import Path

from viscount.errors import UsageError
from viscount.outlet.loading import load_outlet

BOM = b"\xef\xbb\xbf"


def text_of(path: Path) -> tuple[str, bytes]:
    """Return a file's text, and the byte order mark that it begins with, if any."""
    raw = path.read_bytes()
    mark = BOM if raw.startswith(BOM) else b""
    return raw.removeprefix(BOM).decode("utf-8"), mark


def save_outlet(path: Path, data: bytes) -> None:
    """Put an outlet file in its place: it grows under another name, is checked, and moves there.

    A link is followed, and the permissions of a file that was there are kept.

    Raises
    ------
    viscount.errors.ViscountError : it cannot be written, or would not load.
    """
    target = path.resolve()
    growing = target.with_name(f".{target.stem}.{os.getpid()}.part{target.suffix}")
    try:
        with growing.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        load_outlet(growing)
        with contextlib.suppress(FileNotFoundError):
            shutil.copymode(target, growing)
        growing.replace(target)
    except OSError as error:
        raise UsageError(
            f"the file cannot be written ({error.strerror})",
            where=str(path),
            allowed="a file in a folder that may be written",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            growing.unlink(missing_ok=True)
