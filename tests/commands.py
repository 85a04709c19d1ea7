"""Calling the program in tests: in this process, or as one of its own."""

import contextlib
import io
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from viscount.cli import run

FIXTURES = Path(__file__).parents[1] / "fixtures"

# Whoever started the tests may have let its children ignore Ctrl-C.
_START = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from viscount.__main__ import main; main()"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a call came to."""

    status: int
    out: str
    err: str


class Terminal(io.StringIO):
    """A stream that says that a person reads it."""

    def isatty(self) -> bool:
        return True


def call(*words: object, on_terminal: bool = False) -> Answer:
    """Run the program in this process."""
    out = Terminal() if on_terminal else io.StringIO()
    err = Terminal() if on_terminal else io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run([str(word) for word in words])
    return Answer(status=int(status), out=out.getvalue(), err=err.getvalue())


def started(*words: object, **more: object) -> "subprocess.Popen[str]":
    """Start the program as a process of its own, its streams as pipes of text."""
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(
        [sys.executable, "-c", _START, *(str(word) for word in words)],
        encoding="utf-8",
        **{**streams, **more},  # type: ignore[call-overload]
    )


def called(*words: object, **more: object) -> Answer:
    """Run the program as a process of its own, and wait for its end."""
    process = started(*words, **more)
    out, err = process.communicate(timeout=60)
    return Answer(status=process.returncode, out=out, err=err)
