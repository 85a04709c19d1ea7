"""The one word that says how the run stands, and the sentence beside it."""

from dataclasses import dataclass

from viscount.monitor.model.standing import Shape, Standing
from viscount.packing.actions import About, Say
from viscount.packing.machine import Phase
from viscount.seams import GateState
from viscount.session.messages import Packing
from viscount.tally import Tally
from viscount.values import Status

_STATUS = {
    Status.CLEAN: Shape.GOOD,
    Status.DOUBTFUL: Shape.DOUBT,
    Status.INVALID: Shape.BAD,
}
_PHASES: dict[str, tuple[Shape, str]] = {
    Phase.WAITING: (Shape.WAITS, "put a bag in place"),
    Phase.HAND: (Shape.WAITS, "count by hand"),
    Phase.WRITING: (Shape.WAITS, "writing it down"),
    Phase.ATTENTION: (Shape.DOUBT, "look at this bag"),
    Phase.ENDED: (Shape.OFF, "ended"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How the run stands: a shape, a few words, a sentence."""

    shape: Shape
    word: str
    sentence: str = ""


def counting_state(things: tuple[Standing, ...], doubts: int, *, began: bool) -> State:
    """Return the state of a run that counts without packing."""
    bad = next((one for one in things if one.shape is Shape.BAD), None)
    if bad is not None:
        return State(shape=Shape.BAD, word=f"{bad.name}: {bad.words}", sentence=bad.remedy)
    if not began:
        return State(shape=Shape.WAITS, word="waiting", sentence="for the first pictures")
    if doubts:
        places = "1 place" if doubts == 1 else f"{doubts} places"
        sentence = "press N, or click a line of the list, to see why"
        return State(shape=Shape.DOUBT, word=f"{places} to look at", sentence=sentence)
    return State(shape=Shape.GOOD, word="no doubt so far", sentence="")


def packing_state(now: Packing, says: tuple[Say, ...], things: tuple[Standing, ...]) -> State:
    """Return the state of a run that packs: what the person is to do comes first."""
    trouble = next((one for one in things if one.shape is Shape.BAD), None)
    if trouble is not None and not now.ended:
        word = f"{trouble.name}: {trouble.words}"
        return State(shape=Shape.BAD, word=word, sentence=trouble.remedy)
    if now.ended:
        parts = f"{now.totals.packed} good bags, {now.totals.parts} parts in them"
        return State(shape=Shape.OFF, word="packing has ended", sentence=parts)
    shape, word = _PHASES.get(now.phase, (Shape.WAITS, now.phase))
    if now.phase in _PHASES:
        asked = [one.text for one in says if one.about in (About.WANTS, About.TROUBLE)]
        return State(shape=shape, word=word, sentence=asked[-1] if asked else "")
    if now.gate == GateState.OPEN:
        sentence = f"the beam's board counts to {now.wanted} and shuts the gate; hands out"
    else:
        sentence = "what fell is being judged by both counters"
    return State(shape=shape, word=word, sentence=sentence)


def ended_state(tally: Tally, *, of: str = "the run") -> State:
    """Return what a run came to."""
    word = "not as expected" if tally.as_expected is False else str(tally.status)
    count = "no count" if tally.count is None else f"{tally.count} parts"
    by = "by both counters" if tally.beam is not None else "by the camera alone"
    sentence = f"{of}: {count} {by}"
    if tally.expected is not None and tally.as_expected is False:
        sentence += f", {tally.expected} wanted"
    reasons = tally.reasons
    if reasons:
        more = f"; {len(reasons) - 1} more in the list" if len(reasons) > 1 else ""
        sentence += f"; {reasons[0].code.meaning}{more}"
    shape = Shape.DOUBT if tally.as_expected is False else _STATUS[tally.status]
    return State(shape=shape, word=word, sentence=sentence)
