"""What the pairing made of made-up lists, against the truth."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchmarks.pairing.lists import Lists

from viscount.values import Pairing

SAME_S = 3e-4
"""Three times what the length of one part scatters by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """How many pairings there are, how many are wrong, and which events were wrongly used."""

    pairings: int
    wrong: tuple[Pairing, ...]
    total: int
    once: bool


def judge(lists: Lists, pairings: Sequence[Pairing]) -> Judged:
    """Compare pairings with the truth.

    A pairing is right if its passages and its pulses are the same true parts, but for those that
    one counter truly has nothing of, and it says how many.
    """
    passages = sorted(number for pairing in pairings for number in pairing.passages)
    pulses = sorted(number for pairing in pairings for number in pairing.pulses)
    once = passages == sorted(lists.parts_of_passage) and pulses == sorted(lists.parts_of_pulse)
    seen = {k for own in lists.parts_of_passage.values() for k in own}
    beamed = {k for own in lists.parts_of_pulse.values() for k in own}
    wrong = [pairing for pairing in pairings if not _right(lists, pairing, seen, beamed)]
    return Judged(
        pairings=len(pairings),
        wrong=tuple(wrong),
        total=sum(pairing.parts for pairing in pairings),
        once=once,
    )


def unknowable(lists: Lists) -> int:
    """Return how many parts neither counter can know of: the camera missed them, and the beam
    missed them or would show the same without them.

    They are no fault of the pairing, and no count of two counters can hold them.
    """
    seen = {k for own in lists.parts_of_passage.values() for k in own}
    found = {k for k in range(lists.parts) if k not in seen}
    for own in lists.parts_of_pulse.values():
        for k in [k for k in own if k in found]:
            rest = [lists.darks_s[other] for other in own if other != k]
            if rest and _covers(rest, lists.darks_s[k]):
                continue
            found.discard(k)
    return len(found)


def _covers(rest: list[tuple[float, float]], own: tuple[float, float]) -> bool:
    """Return whether a pulse of the rest would look the same, within what lengths scatter by."""
    start, end = min(a for a, _ in rest), max(b for _, b in rest)
    return own[0] > start - SAME_S and own[1] < end + SAME_S


def _right(lists: Lists, pairing: Pairing, seen: set[int], beamed: set[int]) -> bool:
    ours = {k for number in pairing.passages for k in lists.parts_of_passage[number]}
    theirs = {k for number in pairing.pulses for k in lists.parts_of_pulse[number]}
    if pairing.passages and pairing.pulses:
        hidden = {k for number in pairing.pulses for k in lists.shadowed[number]}
        whole = ours | theirs
        # A part that the camera missed is in the pulse that it made longer, and nowhere else.
        missed = theirs - ours
        return (
            bool(ours & theirs or not ours)
            and ours <= theirs | hidden
            and not missed & seen
            and pairing.parts == len(whole)
        )
    if pairing.passages:
        return not ours & beamed and pairing.parts == len(ours)
    return not theirs & seen and pairing.parts == len(theirs)
