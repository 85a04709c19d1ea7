"""What the commands write: answers to standard output, all else to standard error."""

import contextlib
import io
import os
import shutil
import sys
from typing import TYPE_CHECKING

from viscount.errors import ExitStatus, ViscountError

if TYPE_CHECKING:
    from rich.console import RenderableType


class OutputError(ViscountError):
    """An answer or a file that cannot be written."""

    exit_status = ExitStatus.INVALID


def say(text: str) -> None:
    """Write an answer to standard output.

    A reader that has gone (``viscount count ... | head -1``) is no error: the rest is dropped.

    Raises
    ------
    OutputError : standard output cannot be written for another reason.
    """
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_standard_output()
    except OSError as error:
        _drop_standard_output()
        raise OutputError(f"standard output cannot be written ({error.strerror})") from error


def complain(text: str) -> None:
    """Write what went wrong to standard error, if anybody still reads that."""
    with contextlib.suppress(OSError):
        sys.stderr.write(f"viscount: {shown(text)}\n")
        sys.stderr.flush()


def on_terminal() -> bool:
    """Return whether a person reads the answer on a terminal."""
    return sys.stdout.isatty()


def shown(text: str) -> str:
    """Return text without control characters: a file's name may hold any."""
    return "".join(
        sign if sign.isprintable() or sign == "\n" else f"\\x{ord(sign):02x}" for sign in text
    )


def rendered(*parts: "RenderableType") -> str:
    """Return what `rich` makes of these for standard output; colours on a terminal only."""
    from rich.console import Console

    page = io.StringIO()
    console = Console(
        file=page,
        force_terminal=on_terminal(),
        width=shutil.get_terminal_size((80, 24)).columns,
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
    )
    for part in parts:
        console.print(part)
    return page.getvalue()


def can_show(text: str) -> bool:
    """Return whether standard output's encoding has these characters."""
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _drop_standard_output() -> None:
    """Send whatever is still to come, buffers included, to nowhere."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
