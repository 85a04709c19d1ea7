"""From the explanation of a cluster to its pairings, each with its doubt."""

from collections.abc import Sequence

from viscount.agreement.events import Dark, Due
from viscount.agreement.explanation import Explanation
from viscount.agreement.heads import lead_us
from viscount.agreement.steps import Step
from viscount.agreement.wording import why
from viscount.values import Pairing, Pairs

NEGLIGIBLE = 1e-9


def pairings(
    found: Explanation,
    dues: Sequence[Due],
    darks: Sequence[Dark],
    camera_missed: float,
    beam_missed: float,
    origin_ns: int,
) -> list[Pairing]:
    """Return one pairing for each step of the likeliest path, in order of time.

    `camera_missed` and `beam_missed` are the chances that a counter misses a part.
    """
    return [
        _pairing(step, found, dues, darks, camera_missed, beam_missed, origin_ns)
        for step in found.path
    ]


def _pairing(
    step: Step,
    found: Explanation,
    dues: Sequence[Due],
    darks: Sequence[Dark],
    camera_missed: float,
    beam_missed: float,
    origin_ns: int,
) -> Pairing:
    ours = dues[step.due : step.due + step.dues]
    theirs = darks[step.dark : step.dark + step.darks]
    parts, fewer, more = 0, 0.0, 0.0
    for k, due in enumerate(ours, start=step.due):
        n, less, greater = _likeliest(found.due_parts[k])
        parts += n
        fewer, more = fewer + less, more + greater
        # Another one beside it may have been missed by both.
        more += (1.0 - due.watched * (1.0 - beam_missed)) * camera_missed if n else 0.0
    for k, dark in enumerate(theirs, start=step.dark):
        n, less, greater = _likeliest(found.dark_parts[k])
        parts += n
        fewer, more = fewer + less, more + greater
        if not ours and n:
            more += (1.0 - dark.seen * (1.0 - camera_missed)) * beam_missed
    sign = ours[0].sign if ours else 1
    doubt = min(fewer + more, 1.0)
    kind = _kind(ours, theirs, parts)
    excused = (not ours and theirs[0].seen < 0.5) or (not theirs and ours[0].watched < 0.5)
    at_us = theirs[0].start_us if theirs else ours[0].at_us
    return Pairing(
        kind=kind,
        passages=tuple(due.arrival.passage.id for due in ours),
        pulses=tuple(dark.pulse.id for dark in theirs),
        parts=sign * parts,
        doubt=doubt if doubt > NEGLIGIBLE else 0.0,
        fewer=min(fewer if sign > 0 else more, doubt) if doubt > NEGLIGIBLE else 0.0,
        excused=excused,
        t_ns=origin_ns + round(1e3 * at_us),
        late_ns=round(1e3 * _late_us(ours[0], theirs)) if ours and theirs else None,
        why=why(kind, ours, theirs, parts, excused),
    )


def _late_us(due: Due, darks: Sequence[Dark]) -> float:
    """Return how much later than it should a part's first pulse begins."""
    lead = lead_us(due.own, [dark.pulse for dark in darks])
    return darks[0].start_us - due.at_us - lead


def _likeliest(chances: dict[int, float]) -> tuple[int, float, float]:
    """Return the likeliest number, and the chances of fewer and of more."""
    best = max(chances, key=lambda n: (chances[n], n))
    fewer = sum(chance for n, chance in chances.items() if n < best)
    return best, fewer, sum(chance for n, chance in chances.items() if n > best)


def _kind(ours: Sequence[Due], theirs: Sequence[Dark], parts: int) -> Pairs:
    if not theirs:
        return Pairs.CAMERA_ONLY
    if not ours:
        return Pairs.BEAM_ONLY
    if len(theirs) > 1:
        if len(ours) > 1:
            return Pairs.AMBIGUOUS
        return Pairs.AGREED if parts == len(theirs) else Pairs.SPLIT_PULSE
    return Pairs.MERGED_PULSE if parts > 1 else Pairs.AGREED
