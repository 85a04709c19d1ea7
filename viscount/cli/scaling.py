"""Measuring a scale for a command, and setting it in the outlet file."""

import contextlib
import logging
import math
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from viscount.errors import ExitStatus, UsageError
from viscount.measure.scale.gravity import TILT_DEG
from viscount.outlet.editing import with_key
from viscount.outlet.saving import save_outlet, text_of
from viscount.scaling.answer import Scaled
from viscount.scaling.asked import Asked, Ways
from viscount.scaling.scale import scaled
from viscount.values import Status

_log = logging.getLogger("viscount.cli")

_DIGITS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A key of the outlet file that was set, what it said before, and what it says now."""

    key: str
    before: float | None
    now: float


def asked_for(
    *,
    by: Sequence[str],
    ruler_mm: float | None,
    checkerboard: str | None,
    square_mm: float | None,
    tilt_deg: float | None,
    gravity_mm_s2: float | None,
    light_hz: Sequence[float],
    sensor: str | None,
    mode: str | None,
    frames: str | None,
    write: bool,
    outlet: Path | None,
) -> Asked:
    """Return what a call asks for; raises UsageError where its words make no sense."""
    if write and outlet is None:
        raise UsageError("no outlet file", where="--write", allowed="--outlet FILE to write into")
    unknown = [way for way in by if way not in set(Ways)]
    if unknown:
        known = ", ".join(Ways)
        raise UsageError(f"the way {unknown[0]!r}", where="--by", allowed=f"one of {known}")
    for name, value, least, most in (
        ("--ruler-mm", ruler_mm, 0.0, 1000.0),
        ("--square-mm", square_mm, 0.0, 1000.0),
        ("--gravity-mm-s2", gravity_mm_s2, 9700.0, 9900.0),
        *(("--light-hz", hz, 1.0, 100_000.0) for hz in light_hz),
    ):
        if value is not None and not (math.isfinite(value) and least < value <= most):
            allowed = f"more than {least:g}, at most {most:g}"
            raise UsageError(f"{value:g}", where=name, allowed=allowed)
    if tilt_deg is not None and not 0 <= tilt_deg <= 30:
        raise UsageError(f"{tilt_deg:g}", where="--tilt-deg", allowed="0 to 30")
    span = None if frames is None else _two(frames, ":", "--frames", "FIRST:LAST, such as 140:180")
    if span is not None and span[0] > span[1]:
        raise UsageError(f"{frames}", where="--frames", allowed="the first before the last")
    return Asked(
        by=frozenset(Ways(way) for way in by),
        ruler_mm=ruler_mm,
        corners=_corners(checkerboard),
        square_mm=square_mm,
        tilt_deg=TILT_DEG if tilt_deg is None else tilt_deg,
        g_mm_s2=gravity_mm_s2,
        lights_hz=tuple(light_hz),
        sensor=sensor,
        mode=None if mode is None else _two(mode, "x", "--mode", "WIDTHxHEIGHT"),
        frames=span,
    )


def _corners(text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    allowed = "COLSxROWS inner corners, 3 to 100 each, such as 5x8"
    corners = _two(text, "x", "--checkerboard", allowed)
    if not all(3 <= n <= 100 for n in corners):
        raise UsageError(text, where="--checkerboard", allowed=allowed)
    return corners


def _two(text: str, between: str, where: str, allowed: str) -> tuple[int, int]:
    found = re.fullmatch(rf"\s*(\d{{1,7}})\s*{between}\s*(\d{{1,7}})\s*", text)
    if found is None:
        raise UsageError(repr(text), where=where, allowed=allowed)
    return int(found[1]), int(found[2])


def measured(
    sources: Sequence[Path],
    *,
    outlet: Path | None,
    part: Path | None,
    asked: Asked,
    settings: Sequence[str],
) -> Scaled:
    """Measure.

    What a plugin prints meanwhile goes to standard error: standard output is for the answer.
    """
    with contextlib.redirect_stdout(sys.stderr):
        return scaled(
            sources,
            outlet=outlet,
            part=part,
            asked=asked,
            settings=settings,
            heard=lambda name: _log.info("looking at %s", name),
        )


def scale_status(found: Scaled) -> ExitStatus:
    """Return the exit status that stands for it."""
    return {
        Status.CLEAN: ExitStatus.CLEAN,
        Status.DOUBTFUL: ExitStatus.DOUBTFUL,
        Status.INVALID: ExitStatus.INVALID,
    }[found.status]


def written(found: Scaled, path: Path, *, force: bool) -> tuple[Change, ...]:
    """Set what was found in the outlet file: whole, or not at all, and nothing else.

    What is doubtful is written with `force` only; returns nothing where nothing was written.

    Raises
    ------
    viscount.errors.ViscountError : the file cannot be read, edited or written.
    """
    if found.status is not Status.CLEAN and not force:
        return ()
    wanted: list[tuple[tuple[str, str], float]] = []
    if found.scale is not None:
        wanted.append((("view", "scale_px_per_mm"), _rounded(found.scale.value)))
    if found.line_time is not None and found.line_time.seconds is not None:
        wanted.append((("camera", "line_time_us"), _rounded(1e6 * found.line_time.seconds)))
    if not wanted:
        return ()
    text, mark = text_of(path)
    changes = []
    for key, value in wanted:
        edited = with_key(text, key, value, where=str(path))
        before = edited.before if isinstance(edited.before, int | float) else None
        changes.append(Change(key=".".join(key), before=before, now=value))
        text = edited.text
    save_outlet(path, mark + text.encode("utf-8"))
    return tuple(changes)


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
