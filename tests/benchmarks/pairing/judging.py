"""What the pairing made of made-up lists, against the truth."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchmarks.pairing.lists import Lists

from viscount.values import Pairing


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """How many pairings there are, how many are wrong, and which events were wrongly used."""

    pairings: int
    wrong: tuple[Pairing, ...]
    total: int
    once: bool


def judge(lists: Lists, pairings: Sequence[Pairing]) -> Judged:
    """Compare pairings with the truth.

    A pairing is right if its passages and its pulses are the same true parts (or one side is
    empty and the other counter truly has nothing of them), and it says how many.
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


def _right(lists: Lists, pairing: Pairing, seen: set[int], beamed: set[int]) -> bool:
    ours = {k for number in pairing.passages for k in lists.parts_of_passage[number]}
    theirs = {k for number in pairing.pulses for k in lists.parts_of_pulse[number]}
    if pairing.passages and pairing.pulses:
        hidden = {k for number in pairing.pulses for k in lists.shadowed[number]}
        return theirs <= ours <= theirs | hidden and pairing.parts == len(ours)
    if pairing.passages:
        return not ours & beamed and pairing.parts == len(ours)
    return not theirs & seen and pairing.parts == len(theirs)
