"""How many parts the beam alone counts: which pulses are one part, and which hold several."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from viscount.beam.alone import FEWEST, Guess, guessed
from viscount.beam.explaining import Spread
from viscount.beam.lengths import factors, rows
from viscount.beam.pieces import in_pieces
from viscount.beam.record import BeamRecord
from viscount.beam.weighing import Weighing
from viscount.beam.wording import merged_text, unsure_text
from viscount.codes import Code
from viscount.values import Level, Notice, Pulse, Signature, Unwatched

CONFIDENCE = 0.95
CUT_DOUBT = 0.1
"""A pulse of which an end was not seen is one part with at least this doubt."""

OPEN_DOUBT = 0.5
"""Where nothing tells what one part looks like, each pulse is one with this doubt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseGroup:
    """Pulses in a row that are the same part, or parts.

    Attributes
    ----------
    pulses : their ids, in order of time, one or more.
    parts : how many parts they are, 0 or more.
    doubt : chance that `parts` is wrong, or that they are no group of their own; 0 to 1.
    instead : the likeliest other number of parts.
    start_ns : when the first of them began, on the board's clock, in its epoch.
    """

    pulses: tuple[int, ...]
    parts: int
    doubt: float
    instead: int
    start_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamReading:
    """What the beam alone counts.

    Attributes
    ----------
    groups : every pulse is in one of them, in order of time.
    parts : how many parts, those of interruptions lost among them whose number is known.
    low, high : the range in which `parts` lies with `CONFIDENCE`, by the pulses' own lengths.
    signature : of one part, as given or as learned from these pulses; None without pulses.
    learned : whether the pulses themselves had to tell what one part looks like.
    notices : what the user must know.
    """

    groups: tuple[PulseGroup, ...]
    parts: int
    low: int
    high: int
    signature: Signature | None
    learned: bool
    notices: tuple[Notice, ...] = ()


def read_pulses(
    pulses: Sequence[Pulse],
    signature: Signature | None = None,
    *,
    speed: float | Sequence[float] | None = None,
    unresolved: float = 0.0,
    record: BeamRecord | None = None,
) -> BeamReading:
    """Return how many parts these pulses are.

    Parameters
    ----------
    pulses : in order of time.
    signature : of one part. Without one, and where its lengths need a speed that is not given,
        the usual pulse is taken for one part, and a notice says what that leaves open.
    speed : of parts at the beam in the signature's unit per second: one, or one for each pulse.
    unresolved : the gap up to which two parts are one pulse, in the signature's unit
        (`viscount.barrier.BeamLaw.least_clear`).
    record : of the same pulses; its gaps part them, and its lost interruptions count as parts.
    """
    gaps = record.unwatched if record else ()
    unknown = signature is None or (signature.unit != "ms" and speed is None)
    guess = _guess(pulses, gaps) if unknown and pulses else None
    if guess is not None:
        signature, speed = guess.signature, None
        if not guess.usual and guess.paired is None:
            return _untold(pulses, guess, _lost_parts(record, None))
    groups: list[PulseGroup] = []
    spread = Spread(0, np.ones(1))
    if pulses and signature is not None:
        factor = factors(len(pulses), signature.unit, speed)
        if guess is not None:
            factor = factor * guess.pace
        weighing = Weighing(signature, 0.0 if guess is not None else unresolved)
        for first, seen in rows(pulses, factor, gaps):
            for offset, told, of_piece in in_pieces(weighing, seen):
                at = first + offset
                groups += [
                    _group(pulses[at + t.first : at + t.last + 1], t.parts, t.doubt, t.instead)
                    for t in told
                ]
                spread = spread.plus(of_piece)
    spread = spread.plus(_cut(groups, pulses)).plus(_lost(record, signature))
    lost = _lost_parts(record, signature)
    parts = sum(group.parts for group in groups) + lost
    low, high = spread.within(CONFIDENCE)
    low, high = min(low, parts), max(high, parts)
    notices = _notices(groups, pulses, learned=guess is not None)
    if guess is not None:
        notices = [*_open_questions(guess, parts, len(pulses)), *notices]
        if guess.paired is not None:
            low, high = min(low, guess.paired + lost), max(high, guess.paired + lost)
            groups = [replace(group, doubt=max(group.doubt, OPEN_DOUBT)) for group in groups]
    return BeamReading(
        groups=tuple(groups),
        parts=parts,
        low=low,
        high=high,
        signature=signature,
        learned=guess is not None,
        notices=tuple(notices),
    )


def _untold(pulses: Sequence[Pulse], guess: Guess, lost: int) -> BeamReading:
    """Return one part for each pulse where nothing tells: it may be half as many, or twice."""
    n = len(pulses)
    return BeamReading(
        groups=tuple(_group([p], 1, OPEN_DOUBT, 2) for p in pulses),
        parts=n + lost,
        low=(n + 1) // 2 + lost,
        high=2 * n + lost,
        signature=guess.signature,
        learned=True,
        notices=tuple(_open_questions(guess, n + lost, n)),
    )


def _guess(pulses: Sequence[Pulse], gaps: Sequence[Unwatched]) -> Guess:
    factor = factors(len(pulses), "ms", None)
    darks, lights, whole = [], [], []
    for _, seen in rows(pulses, factor, gaps):
        darks.append(seen.darks)
        lights.append(np.concatenate([[np.nan], seen.lights[1:]]))
        whole.append(~seen.cut)
    return guessed(np.concatenate(darks), np.concatenate(lights), np.concatenate(whole))


def _group(own: Sequence[Pulse], parts: int, doubt: float, instead: int) -> PulseGroup:
    if any(p.cut or p.lost_edges for p in own):
        doubt = max(doubt, CUT_DOUBT)
    return PulseGroup(
        pulses=tuple(p.id for p in own),
        parts=parts,
        doubt=doubt,
        instead=instead,
        start_ns=own[0].start_ns,
    )


def _cut(groups: Sequence[PulseGroup], pulses: Sequence[Pulse]) -> Spread:
    """Return what cut pulses add to the spread: one less or one more, alike."""
    cut = {p.id for p in pulses if p.cut or p.lost_edges}
    spread = Spread(0, np.ones(1))
    for group in groups:
        if cut & set(group.pulses):
            own = np.array([CUT_DOUBT / 2, 1.0 - CUT_DOUBT, CUT_DOUBT / 2])
            spread = spread.plus(Spread(-1, own))
    return spread


def _lost_parts(record: BeamRecord | None, signature: Signature | None) -> int:
    """Return how many parts lost interruptions are, at so many for each part."""
    if record is None or not record.pulses_lost:
        return 0
    each, _ = _pulses_each(signature)
    return round(record.pulses_lost / each)


def _lost(record: BeamRecord | None, signature: Signature | None) -> Spread:
    """Return the spread of that number: a part may be one pulse or several (renewal theory)."""
    lost = _lost_parts(record, signature)
    each, variance = _pulses_each(signature)
    if not lost or variance == 0.0:
        return Spread(lost, np.ones(1))
    sigma = float(np.sqrt(max(lost * variance / each**2, 0.1)))
    reach = min(int(np.ceil(4 * sigma)), lost)
    off = np.arange(-reach, reach + 1)
    chances = np.exp(-0.5 * (off / sigma) ** 2)
    return Spread(lost - reach, chances / chances.sum())


def _pulses_each(signature: Signature | None) -> tuple[float, float]:
    """Return mean and variance of the number of pulses of a part."""
    if signature is None:
        return 1.0, 0.0
    chances = np.array([mode.chance for mode in signature.modes])
    counts = np.array([len(mode.darks) for mode in signature.modes])
    mean = float(chances @ counts / chances.sum())
    return mean, float(chances @ (counts - mean) ** 2 / chances.sum())


def _open_questions(guess: Guess, parts: int, pulses: int) -> list[Notice]:
    """Return what the pulses leave open about what one part looks like."""
    if guess.paired is not None:
        text = f"pattern fits {guess.paired} (two-break parts) or {parts} (single): teach the part"
    elif pulses < FEWEST:
        text = f"{pulses} pulses are too few to tell one part from several: teach the part"
    elif not guess.usual:
        text = f"the {pulses} pulses have no usual length that would tell one part: teach the part"
    else:
        return []
    return [Notice(level=Level.DOUBT, code=Code.BEAM_PATTERN_AMBIGUOUS, text=text)]


def _notices(
    groups: Sequence[PulseGroup], pulses: Sequence[Pulse], *, learned: bool
) -> list[Notice]:
    """Return the notices about pulses that hold several parts, and about unsure ones."""
    made = []
    several = [(g.start_ns, g.parts) for g in groups if g.parts > 1]
    if several:
        level = Level.DOUBT if learned else Level.INFO
        parts = sum(group.parts for group in groups)
        text = merged_text(several, len(pulses), parts)
        made.append(Notice(level=level, code=Code.BEAM_PULSES_MERGED, text=text))
    right = float(np.prod([1.0 - group.doubt for group in groups]))
    if right < CONFIDENCE:
        worst = sorted(groups, key=lambda g: -g.doubt)
        places = [(g.start_ns, g.parts, g.instead) for g in worst if g.doubt > 0.005]
        text = unsure_text(places, right)
        made.append(Notice(level=Level.DOUBT, code=Code.BEAM_COUNT_UNSURE, text=text))
    return made
