"""What the check says of a recording with the marks as they stand, as short sentences."""

from dataclasses import dataclass

from viscount.checking.examined import Examined
from viscount.errors import ViscountError
from viscount.values import Level, Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One thing that the check says, what to do about it, and how grave it is."""

    level: Level
    text: str
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the check says in all.

    `status` is None where it could not be run; `number` is that of the question.
    """

    number: int
    status: Status | None
    headline: str
    sentences: tuple[Sentence, ...] = ()


_HEADLINES = {
    Status.CLEAN: "fit to be counted",
    Status.DOUBTFUL: "can be counted, with less accuracy",
    Status.INVALID: "cannot be counted like this",
}


def verdict_of(examined: Examined, number: int = 0) -> Verdict:
    """Return it in sentences: what was seen, then findings, then notes."""
    sentences = [Sentence(level=Level.INFO, text=_seen(examined))]
    for one in (*examined.findings, *examined.notes):
        text = f"{one.found} (expected: {one.expected})" if one.expected else one.found
        remedy = "" if one.level is Level.INFO else one.remedy
        sentences.append(Sentence(level=one.level, text=text, remedy=remedy))
    headline = _HEADLINES[examined.status]
    return Verdict(
        number=number,
        status=examined.status,
        headline=headline,
        sentences=tuple(sentences),
    )


def refused(error: ViscountError, number: int = 0) -> Verdict:
    """Return the verdict where the check could not be run."""
    head = f"{error.where}: {error.found}" if error.where else error.found
    more = [f"allowed: {error.allowed}"] if error.allowed else []
    remedy = "; ".join([*more, *([error.remedy] if error.remedy else [])])
    return Verdict(
        number=number,
        status=None,
        headline="cannot be checked like this",
        sentences=(Sentence(level=Level.INVALID, text=head, remedy=remedy),),
    )


def _seen(examined: Examined) -> str:
    motion = examined.motion
    text = f"about {motion.parts} passed the line"
    if motion.speed_px_s is not None:
        text += f" at {motion.speed_px_s:.0f} px/s"
    if motion.whole_sightings is not None:
        text += f", each whole in view in {motion.whole_sightings:.1f} frames"
    return text
