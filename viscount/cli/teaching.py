"""Running a teaching for a command, and writing its part file."""

import contextlib
import logging
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from viscount.clips.partial import partial_path
from viscount.errors import UsageError
from viscount.outlet import Part, as_yaml
from viscount.teaching.teach import TaughtPart, teach

_log = logging.getLogger("viscount.cli")


def required_place(out: Path | None, *, force: bool) -> Path:
    """Refuse, before any clip is followed, a part file that could not be written.

    Raises
    ------
    UsageError
    """
    if out is None:
        raise UsageError(
            "nowhere to write the part file", where="--out", allowed="the name of a file"
        )
    where = f"--out {out}"
    if out.is_dir():
        raise UsageError("a folder, not a file", where=where)
    if not out.parent.is_dir():
        raise UsageError(
            f"there is no folder {out.parent}", where=where, allowed="a folder that exists"
        )
    if out.exists() and not force:
        raise _there_already(out)
    return out


def taught(
    clips: Sequence[Path],
    *,
    outlet: Path | None,
    beams: Sequence[Path],
    base: Path | None,
    name: str | None,
    count: int | None,
    settings: Sequence[str],
) -> TaughtPart:
    """Teach a part.

    What a plugin prints meanwhile goes to standard error: standard output is for the answer.
    """
    with contextlib.redirect_stdout(sys.stderr):
        return teach(
            clips,
            outlet=outlet,
            beams=beams,
            base=base,
            name=name,
            count=count,
            settings=settings,
            heard=lambda clip: _log.info("following %s", clip),
        )


def write_part(path: Path, part: Part, *, force: bool) -> None:
    """Write a part file whole, or not at all: it grows under another name until it is finished.

    Raises
    ------
    UsageError
    """
    growing = partial_path(path)
    try:
        with growing.open("w", encoding="utf-8") as file:
            file.write(as_yaml(part))
            file.flush()
            os.fsync(file.fileno())
        if path.exists() and not force:
            raise _there_already(path)
        growing.replace(path)
    except OSError as error:
        raise UsageError(
            f"the file cannot be written ({error.strerror})",
            where=str(path),
            allowed="a file in a folder that exists",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            growing.unlink(missing_ok=True)


def _there_already(path: Path) -> UsageError:
    return UsageError(
        "the file is there already",
        where=str(path),
        remedy="take another name, or write over it with --force",
    )
