"""Where the rooms' loggers are heard: nowhere, unless the user asks."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from viscount.errors import UsageError

_LINE = "%(asctime)s %(levelname)-7s %(name)s: %(message)s"


@contextmanager
def logging_to(verbosity: int, file: Path | None) -> Iterator[None]:
    """Write the log to standard error and to a file while the command runs.

    Parameters
    ----------
    verbosity : 0 for nothing on standard error, 1 for what happens, 2 for every detail.
    file : gets every detail; None for no file.

    Raises
    ------
    UsageError : the file cannot be written.
    """
    logger = logging.getLogger("viscount")
    before = logger.level
    handlers = _handlers(verbosity, file)
    for handler in handlers:
        handler.setFormatter(logging.Formatter(_LINE))
        logger.addHandler(handler)
    if handlers:
        logger.setLevel(logging.DEBUG)
    try:
        yield
    finally:
        logger.setLevel(before)
        for handler in handlers:
            logger.removeHandler(handler)
            handler.close()


def _handlers(verbosity: int, file: Path | None) -> list[logging.Handler]:
    handlers: list[logging.Handler] = []
    if verbosity:
        handlers.append(logging.StreamHandler())
        handlers[0].setLevel(logging.INFO if verbosity == 1 else logging.DEBUG)
    if file is not None:
        try:
            handlers.append(logging.FileHandler(file, encoding="utf-8"))
        except OSError as error:
            raise UsageError(
                f"the log cannot be written ({error.strerror})",
                where=f"--log {file}",
                allowed="a file in a folder that exists",
            ) from error
    return handlers
