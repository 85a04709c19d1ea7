"""Notices about a beam's log beside a recording."""

from collections.abc import Sequence
from dataclasses import replace

from viscount.codes import Code
from viscount.values import Level, Notice


def softened(notices: Sequence[Notice], *, matters: bool) -> list[Notice]:
    """Return a beam's notices; that its log has no end is a doubt only where that matters."""
    return [
        replace(n, level=Level.INFO) if n.code is Code.BEAM_END_UNKNOWN and not matters else n
        for n in notices
    ]


def run_notes(*, outside: int, askew: bool) -> list[Notice]:
    """Return what is worth knowing of pulses that lie outside of the run, and of a beam askew."""
    notes: list[Notice] = []
    if outside:
        what = f"{outside} pulse{'' if outside == 1 else 's'}"
        text = f"{what} of the beam log fall into pours that the recording does not show; left out"
        notes.append(Notice(level=Level.INFO, code=Code.PULSES_OUTSIDE, text=text))
    if askew:
        text = Code.BEAM_ASKEW.meaning
        notes.append(Notice(level=Level.INFO, code=Code.BEAM_ASKEW, text=text))
    return notes
