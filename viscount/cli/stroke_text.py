"""Filmed strokes as a file and as text."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from viscount.cli.fact import Fact
from viscount.cli.readable import plain_lines
from viscount.cli.screen import OutputError
from viscount.gate.filmed import FilmedStroke
from viscount.offline.filming import Filmed
from viscount.report.whole_file import write_whole

_PLAIN = "direction,begins_ms,done_ms"
_FULL = "direction,first_motion_ms,begins_ms,done_ms"


def write_strokes(found: Filmed, path: Path) -> None:
    """Write the strokes that can be used as a file of strokes; their sigmas are remarks.

    Raises
    ------
    OutputError : the file cannot be written.
    """
    sigma_ms = 1e3 * max(max(one.sigma_begins_s, one.sigma_done_s) for one in found.used)
    full = any(one.first_motion_s is not None for one in found.used)
    lines = [
        f"# filmed at {found.rate_hz:.5g} frames a second",
        f"# sigma_ms {sigma_ms:.3f}",
        _FULL if full else _PLAIN,
    ]
    for one in found.used:
        begins, done = 1e3 * (one.begins_s or 0.0), 1e3 * (one.done_s or 0.0)
        moves = "" if one.first_motion_s is None else f"{1e3 * one.first_motion_s:.3f}"
        first = f"{moves}," if full else ""
        lines.append(f"{_direction(one)},{first}{begins:.3f},{done:.3f}")
    try:
        write_whole(path, ("\n".join(lines) + "\n").encode())
    except OSError as error:
        raise OutputError(
            f"the strokes cannot be written ({error.strerror})", where=f"--out {path}"
        ) from error


def stroke_text(found: Filmed, path: Path) -> str:
    """Return what there is to say of the strokes."""
    return "\n".join(plain_lines(list(_facts(found, path)))) + "\n"


def _facts(found: Filmed, path: Path) -> Iterator[Fact]:
    yield from _lamp(found)
    for shuts, label, names in (
        (True, "shut", ("reach", "shut")),
        (False, "open", ("begins", "open")),
    ):
        own = [one for one in found.used if one.shuts == shuts]
        if own:
            yield Fact(label=label, text=f"{len(own)} strokes; ms after the command")
            moves = [one.first_motion_s for one in own if one.first_motion_s is not None]
            if moves:
                yield Fact(label="moves", text=_spread(moves))
            yield Fact(label=names[0], text=_spread([one.begins_s or 0.0 for one in own]))
            yield Fact(label=names[1], text=_spread([one.done_s or 0.0 for one in own]))
            rebound = 100 * max(one.rebound for one in own)
            if rebound:
                yield Fact(label="rebound", text=f"up to {rebound:.0f} % of the box")
    begins = 1e3 * max(one.sigma_begins_s for one in found.used)
    done = 1e3 * max(one.sigma_done_s for one in found.used)
    text = f"beginnings to {begins:.2f} ms, ends to {done:.2f} ms (one sigma)"
    interval = 1e3 / found.rate_hz
    advice = f"a rebound that is shorter than a frame, {interval:.2g} ms, goes unseen"
    yield Fact(label="known", text=text, advice=advice)
    for one in found.strokes:
        if one.why:
            where = f"{_direction(one)} at {one.command_s:.3f} s"
            yield Fact(label="left out", text=f"{where}: {one.why}")
    yield Fact(label="frames", text=f"{found.rate_hz:.5g} a second")
    yield Fact(label="source", text=found.source)
    yield Fact(label="file", text=str(path))


def _lamp(found: Filmed) -> Iterator[Fact]:
    """Yield what a lamp wired to the coil said."""
    settled = found.settled
    if settled is None:
        return
    known = f"known to {1e3 * settled.commands.sigma_s:.2f} ms"
    if found.log is None:
        text = f"{settled.changes} changes stand for the commands, {known}"
    elif settled.late_s is None:
        text = f"{settled.changes} changes put the board's commands on the film, {known}"
    else:
        text = (
            f"the coil was driven {_spread(settled.late_s.tolist())} ms after the log's times; "
            f"taken from the lamp, {known}"
        )
    yield Fact(label="lamp", text=text)


def _spread(times_s: list[float]) -> str:
    low, middle, high = (1e3 * float(f(times_s)) for f in (np.min, np.median, np.max))
    return f"{middle:.2f} in the middle, {low:.2f} to {high:.2f}"


def _direction(one: FilmedStroke) -> str:
    return "shut" if one.shuts else "open"
