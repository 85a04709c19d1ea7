"""Sentences about places in the beam's time."""

from collections.abc import Sequence

SHOWN_PLACES = 5
"""So many places are named in one text."""


def merged_text(several: Sequence[tuple[int, int]], pulses: int, parts: int) -> str:
    """Return what there is to say of pulses, by (start in ns, parts), that hold several parts."""
    places = ", ".join(f"{t_ns * 1e-9:.6g} s ({n})" for t_ns, n in several[:SHOWN_PLACES])
    first = "" if len(several) <= SHOWN_PLACES else "first "
    return (
        f"{counted(pulses, 'break')}, {parts} parts estimated, {len(several)} flagged as several "
        f"parts at once: {first}{places}"
    )


def unsure_text(places: Sequence[tuple[int, int, int]], right: float) -> str:
    """Return what there is to say of places, by (start in ns, parts, other number)."""
    chance = f"all breaks right with a chance of {100 * right:.0f} %"
    if not places:
        return chance
    shown = sorted(places[:SHOWN_PLACES])
    said = ", ".join(f"{t_ns * 1e-9:.6g} s ({n}, or {other})" for t_ns, n, other in shown)
    first = "" if len(places) <= SHOWN_PLACES else "first "
    return f"{chance}; look at {counted(len(places), 'place')}: {first}{said}"


def counted(number: int, noun: str) -> str:
    """Return a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
