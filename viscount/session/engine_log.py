"""The engine's process logs wherever the one that started it does.

Each adds whole lines of its own to the same file: so that what the engine said last is there even
where both were killed.
"""

import logging
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

_NAME = "viscount"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPlace:
    """One place that lines go to: a file, or standard error where `file` is None."""

    file: Path | None
    level: int
    formatter: logging.Formatter | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPlan:
    """Where lines go to, and from which level on they are made."""

    level: int = logging.NOTSET
    places: tuple[LogPlace, ...] = ()


def log_plan() -> LogPlan:
    """Return where this process logs to; handlers that are neither file nor standard error stay
    its own."""
    logger = logging.getLogger(_NAME)
    places = []
    for handler in logger.handlers:
        if isinstance(handler, logging.FileHandler):
            file = Path(handler.baseFilename)
        elif isinstance(handler, logging.StreamHandler) and handler.stream is sys.stderr:
            file = None
        else:
            continue
        places.append(LogPlace(file=file, level=handler.level, formatter=handler.formatter))
    return LogPlan(level=logger.level, places=tuple(places))


def begin_log(plan: LogPlan) -> None:
    """Log to these places from now on; a file that cannot be written is done without."""
    logger = logging.getLogger(_NAME)
    for place in plan.places:
        handler: logging.Handler = logging.StreamHandler()
        if place.file is not None:
            try:
                handler = logging.FileHandler(place.file, encoding="utf-8")
            except OSError:
                continue
        handler.setLevel(place.level)
        handler.setFormatter(place.formatter)
        logger.addHandler(handler)
    if plan.places:
        logger.setLevel(plan.level)


def end_log() -> None:
    """Close what `begin_log` opened."""
    logger = logging.getLogger(_NAME)
    for handler in list(logger.handlers):
        logger.removeHandler(handler)
        with suppress(OSError):
            handler.close()
