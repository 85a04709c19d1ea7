"""What a pour brought into the bag: the counters beside each other, and what the blade may meet."""

from collections.abc import Sequence
from dataclasses import dataclass

from viscount.packing.evidence import Evidence
from viscount.packing.order import PackOrder, Way
from viscount.packing.paired import Paired, Pairs
from viscount.packing.record import Result
from viscount.seams import Keeper

MOST_DOUBT = 0.05
"""The chance that a clean count is wrong, at most."""
_ENDS_WELL = ("count", "asked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What one pour comes to.

    Attributes
    ----------
    fell : parts that fell into the bag, those held before it included; None where not known.
    held : parts on the blade; None where not known.
    beam : parts by the beam.
    pinched : a part may have been under the blade.
    paired : how both counters go together.
    reasons : why `fell` is not known, or must not be relied on.
    """

    fell: int | None
    held: int | None
    beam: int
    pinched: bool
    paired: Paired
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Split:
    """The beam's parts by what became of them."""

    past: int
    under: int
    held: int


def judged(
    evidence: Evidence, order: PackOrder, pairs: Pairs, *, held: int, sees_shut: bool
) -> Judged:
    """Return what a settled pour comes to.

    A part is past the blade where its tail was there before the blade could reach it, and held
    where its head came after the stream was closed; between the two it may have been pinched.

    Good takes one passage and one pulse for each part: equal totals may hide two errors.

    Parameters
    ----------
    pairs : brings passages and pulses together.
    held : parts that lay on the blade before.
    sees_shut : a sensor sees the blade where it shuts the stream.
    """
    reasons = list(evidence.reasons)
    pulses = evidence.parts(order)
    beam, camera = len(pulses), evidence.camera
    over = evidence.over
    if order.keeper is Keeper.PROCESS:
        reasons.append("only this process keeps the coil off")
    if over is None and not reasons:
        reasons.append("nobody told that the gate shut")
    elif over is not None and over.cause not in _ENDS_WELL:
        reasons.append(f"the gate was shut for another cause: {over.cause}")
    if over is not None and over.count is not None and over.count != evidence.heads_until_shut():
        told = evidence.heads_until_shut()
        reasons.append(f"the board counted {over.count} parts, its edges tell of {told}")
    if sees_shut and evidence.opened and not evidence.seen_shut:
        reasons.append("the blade was not seen shut")
    if evidence.still_dark:
        reasons.append("the beam is blocked")
    if evidence.doubt > MOST_DOUBT:
        chance = min(evidence.doubt, 1.0)
        reasons.append(f"the camera's count is wrong with a chance of {chance:.2f}")
    split = _Split(past=beam, under=0, held=0)
    if order.way is not None and over is not None and over.device_t_us is None:
        reasons.append("nobody told when the gate shut, by the clock that stamps the beam")
    elif order.way is not None:
        split = _split(pulses, order.way)
    expected = held + split.past if order.below_blade else beam
    if camera != expected and not (order.below_blade and split.under):
        falls = " into the bag" if order.below_blade else ""
        reasons.append(f"the camera counted {camera}, by the beam {expected} fell{falls}")
    if split.under:
        reasons.append(f"{split.under} may have been under the blade")
    # Below the blade the camera saw what was held before, and not what is held now.
    seen = pulses[: beam - split.held] if order.below_blade else pulses
    paired = pairs.of(evidence.seen(seen, before=held if order.below_blade else 0))
    reasons += paired.reasons
    sure = not reasons
    if sure:
        pairs.keep()
    return Judged(
        fell=held + split.past if sure else None,
        held=split.held if sure else None,
        beam=beam,
        pinched=split.under > 0,
        paired=paired,
        reasons=tuple(reasons),
    )


def result_of(one: Judged, *, in_bag: int | None, wanted: int) -> Result:
    """Return what a bag is after a pour."""
    if in_bag is None:
        return Result.PINCHED if one.pinched else Result.UNSURE
    if in_bag == wanted:
        return Result.GOOD
    return Result.SHORT if in_bag < wanted else Result.OVER


def _split(pulses: Sequence[tuple[int, int]], way: Way) -> _Split:
    past = under = held = 0
    for start, end in pulses:
        if end + way.most_us <= way.reach_us:
            past += 1
        elif start + way.least_us >= way.shut_us:
            held += 1
        else:
            under += 1
    return _Split(past=past, under=under, held=held)
