"""Pours by pairings: each pour's count is that of the parts that both counters say fell in it."""

from collections.abc import Mapping, Sequence

from viscount.agreement.chances import CONFIDENCE, Chances, all_right, range_about
from viscount.agreement.result import places, pours_of, result
from viscount.codes import Code
from viscount.tally import CountedPairing, CountedPassage, PourTally, Reason
from viscount.values import Pairing, Passage, Status


def pours_by_pairings(
    pairings: Sequence[Pairing],
    passages: Mapping[int, Passage],
    *,
    transit_ns: float,
    quiet_ns: float,
) -> tuple[list[PourTally], list[CountedPairing]]:
    """Return pours, and each pairing with the number of its pour; times from the first frame.

    A pour's times are those at the counting line: of the camera, or `transit_ns` before the beam.
    Pairings that no clock places belong to the first pour.
    """
    timed = [(_at_line(one, passages, transit_ns), one) for one in pairings]
    placed = sorted((t for t in timed if t[0] is not None), key=lambda t: t[0] or 0.0)
    groups: list[list[tuple[float, Pairing]]] = []
    numbered: list[CountedPairing] = []
    for at, one in placed:
        if at is None:
            continue
        if not groups or at - groups[-1][-1][0] >= quiet_ns:
            groups.append([])
        groups[-1].append((at, one))
        numbered.append(CountedPairing(pour=len(groups), pairing=one))
    numbered += [CountedPairing(pour=1, pairing=one) for at, one in timed if at is None]
    return [_pour(group) for group in groups], numbered


def pours_by_passages(passages: Sequence[Passage], *, quiet_ns: float) -> list[PourTally]:
    """Return pours by the camera alone; times from the first frame."""
    made = []
    for pour in pours_of(passages, round(quiet_ns)):
        own = result(pour, (), 0)
        made.append(
            PourTally(
                start_s=1e-9 * pour[0].t_ns,
                end_s=1e-9 * pour[-1].t_ns,
                count=own.count,
                count_low=own.low,
                count_high=own.high,
                status=own.status,
                reasons=own.reasons,
            )
        )
    return made


def in_pours(
    passages: Sequence[CountedPassage],
    pairings: Sequence[CountedPairing],
    pours: Sequence[PourTally],
) -> tuple[CountedPassage, ...]:
    """Return passages with the numbers of these pours; of those in no pairing, the nearest."""
    of_pairing = {k: one.pour for one in pairings for k in one.pairing.passages}
    return tuple(
        CountedPassage(
            pour=of_pairing.get(one.passage.id) or _nearest(1e-9 * one.passage.t_ns, pours),
            passage=one.passage,
            speed_mm_s=one.speed_mm_s,
        )
        for one in passages
    )


def chances_of(pairing: Pairing) -> Chances:
    """Return the chances that a pairing is one part less, as counted, one more."""
    more = max(pairing.doubt - pairing.fewer, 0.0)
    return Chances(pairing.fewer, 1.0 - pairing.doubt, more)


def _at_line(pairing: Pairing, passages: Mapping[int, Passage], transit_ns: float) -> float | None:
    own = [passages[k].t_ns for k in pairing.passages if k in passages]
    if own:
        return float(min(own))
    return None if pairing.t_ns is None else pairing.t_ns - transit_ns


def _pour(group: Sequence[tuple[float, Pairing]]) -> PourTally:
    own = [pairing for _, pairing in group]
    count = sum(pairing.parts for pairing in own)
    chances = [chances_of(pairing) for pairing in own]
    low, high = range_about(count, chances)
    right = all_right(chances)
    reasons: tuple[Reason, ...] = ()
    if right < CONFIDENCE:
        where = places([(p.t_ns, p.doubt) for p in own if p.t_ns is not None], 0)
        text = f"all pairings right with a chance of {100 * right:.0f} %"
        text = f"{text}; {where}" if where else text
        reasons = (Reason(code=Code.PAIRINGS_UNSURE, text=text),)
    return PourTally(
        start_s=1e-9 * group[0][0],
        end_s=1e-9 * group[-1][0],
        count=count,
        count_low=low,
        count_high=high,
        status=Status.DOUBTFUL if reasons else Status.CLEAN,
        reasons=reasons,
    )


def _nearest(at_s: float, pours: Sequence[PourTally]) -> int:
    off = [max(pour.start_s - at_s, at_s - pour.end_s, 0.0) for pour in pours]
    return 1 + off.index(min(off)) if off else 1
