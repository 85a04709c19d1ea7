"""Which pulses of the beam are which single part's.

Single parts come far apart, so that the pulses of one part stand together; the clocks are fitted
to the first of each group.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from viscount import fall
from viscount.agreement.arrival import Arrival
from viscount.agreement.clock_fit import fit_clocks
from viscount.beam.record import BeamRecord
from viscount.errors import TeachingError
from viscount.outlet import Outlet
from viscount.teaching.lesson import Lesson
from viscount.teaching.singles import AtBeam
from viscount.values import Pulse

TOGETHER = 3.0
"""Pulses that a part of usual length would give within so many of its lengths are one part's."""
OWN_SHARE = 0.4
"""Pulses are a part's within this share of the time to the next part."""
PLACE_PX, ASIDE = 2.0, 0.15
"""How well the place of the beam is known at best; and how much earlier or later a part may
darken it, in lengths of a part, where it passes with its side."""


def beam_at_px(outlet: Outlet) -> float | None:
    """Return where the beam is: an image coordinate along the fall. None where nobody said."""
    beam, view = outlet.beam, outlet.view
    if beam is None or beam.at_px is not None:
        return None if beam is None else beam.at_px
    if beam.below_lip_mm is None or view.lip_px is None or view.scale_px_per_mm is None:
        return None
    return view.lip_px + outlet.falls.sign * beam.below_lip_mm * view.scale_px_per_mm


def at_beam(
    lesson: Lesson, pulses: Sequence[Pulse], record: BeamRecord, at_px: float, log: str
) -> list[AtBeam]:
    """Return what each part of a lesson did to the beam, in the order of `lesson.seen`.

    `at_px` is where the beam is, an image coordinate along the fall; `log` names its log.

    Raises
    ------
    TeachingError
        where not all pulses and parts can be told to be the same.
    """
    if record.unwatched or record.restarts or record.lost_edges:
        raise TeachingError(
            "the beam's board lost edges, or restarted",
            where=log,
            allowed="a log without gaps",
            remedy="drop the parts again",
        )
    cut = [p for p in pulses if p.cut or p.lost_edges]
    if cut:
        raise TeachingError(
            "the beam is blocked as its log begins or ends",
            where=log,
            allowed="a log from before the first part until after the last one",
            remedy="clear the beam and drop the parts again",
        )
    geometry = lesson.geometry
    along_px = geometry.falls.sign * (at_px - geometry.line_px)
    arrivals = [_arrival(lesson, k, along_px) for k in range(len(lesson.seen))]
    groups = _grouped(lesson, pulses, arrivals)
    if not groups:
        raise TeachingError(
            "the beam was never interrupted",
            where=log,
            allowed=f"a log of the same {len(arrivals)} parts as {lesson.name}",
            remedy="give one log for each clip, in the same order",
        )
    heads = [replace(group[0], id=k, end_ns=group[-1].end_ns) for k, group in enumerate(groups)]
    fit = fit_clocks(arrivals, heads)
    if fit.unfitted or fit.ambiguous:
        what = "several offsets" if fit.ambiguous else "no offset"
        raise TeachingError(
            f"{what} of the clocks bring {len(groups)} interruptions and {len(arrivals)} parts "
            "together",
            where=log,
            allowed=f"the log of the parts in {lesson.name}",
            remedy="give one log for each clip, in the same order; drop parts at uneven times",
        )
    (clock,) = fit.clocks
    reach_ns = OWN_SHARE * min(
        (b.due_ns - a.due_ns for a, b in pairwise(arrivals)),
        default=10**9,
    )
    own: list[list[Pulse]] = [[] for _ in arrivals]
    for group in groups:
        off = [abs(group[0].start_ns - a.due_ns - clock.offset_ns(a.due_ns)) for a in arrivals]
        nearest = min(range(len(off)), key=off.__getitem__)
        if off[nearest] > reach_ns or own[nearest]:
            raise TeachingError(
                f"{len(groups)} interruptions of the beam, {len(arrivals)} parts seen: the one at "
                f"{group[0].start_ns * 1e-9:.3f} s is no part that the camera saw",
                where=log,
                allowed="parts that pass camera and beam one by one",
                remedy="drop the parts again",
            )
        own[nearest] = group
    return [
        AtBeam(pulses=tuple(pulses), speed=arrival.speed or 0.0)
        for pulses, arrival in zip(own, arrivals, strict=True)
    ]


def _arrival(lesson: Lesson, k: int, along_px: float) -> Arrival:
    passage, length = lesson.seen[k].passage, lesson.seen[k].look.length
    way_s = fall.time_to(passage.speed_px_s, lesson.acceleration_px_s2, along_px)
    return Arrival(
        passage=replace(passage, id=k),
        transit_ns=round(float(way_s) * 1e9),
        # Where a beam meets a part, beside its middle or not, changes when it does.
        sigma_ns=round(ASIDE * length / max(passage.speed_px_s, 1.0) * 1e9),
        common_ns=PLACE_PX / max(passage.speed_px_s, 1.0) * 1e9,
        speed=lesson.speed_at(passage, along_px),
    )


def _grouped(
    lesson: Lesson, pulses: Sequence[Pulse], arrivals: Sequence[Arrival]
) -> list[list[Pulse]]:
    """Gather the pulses, in order of time, that follow each other within one part."""
    spans = [
        seen.look.length / (arrival.speed or 1.0)
        for seen, arrival in zip(lesson.seen, arrivals, strict=True)
    ]
    within_ns = TOGETHER * 1e9 * max(spans, default=0.0)
    groups: list[list[Pulse]] = []
    for pulse in sorted(pulses, key=lambda p: (p.epoch, p.start_ns)):
        if groups and pulse.start_ns - groups[-1][0].start_ns < within_ns:
            groups[-1].append(pulse)
        else:
            groups.append([pulse])
    return groups
