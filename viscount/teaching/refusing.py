"""Why clips cannot teach one part: what they show is doubtful, too little, or not single."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from viscount.errors import TeachingError
from viscount.teaching.lesson import Lesson
from viscount.teaching.singles import Seen
from viscount.values import Passage, Status

LEAST_SINGLES = 20
"""Fewer tell no 5th and 95th percentile."""
LARGE, LARGE_MADS = 1.6, 8.0
"""A part this many times the usual one, and so far from it, is no single part."""

Place = tuple[Lesson, Seen]


def require_singles(lessons: Sequence[Lesson], count: int | None) -> None:
    """Refuse lessons that cannot teach one part.

    Parameters
    ----------
    lessons : one for each clip.
    count : how many parts were dropped in all; None where nobody said.

    Raises
    ------
    TeachingError
        naming what was found first: a doubtful count, another number of parts, too few, several
        parts at once, parts too close.
    """
    for one in lessons:
        _require_clean(one)
    total = sum(one.result.count for one in lessons)
    if count is not None and total != count:
        each = ", ".join(f"{one.name}: {one.result.count}" for one in lessons)
        raise TeachingError(
            f"the clips show {total} parts ({each})",
            where=f"--count {count}",
            allowed="the number of parts that were dropped",
            remedy="count them again; or drop them again, one by one",
        )
    if total < LEAST_SINGLES:
        raise TeachingError(
            f"{total} single parts",
            where=", ".join(one.name for one in lessons),
            allowed=f"{LEAST_SINGLES} or more, in one clip or several",
            remedy="drop more of them one by one, and give all clips together",
        )
    for one in lessons:
        _require_apart(one)
        _require_whole(one)
    _require_single([(one, seen) for one in lessons for seen in one.seen])


def _require_clean(one: Lesson) -> None:
    if one.result.status is Status.CLEAN:
        return
    reasons = "; ".join(f"{r.code.code}: {r.text}" for r in one.result.reasons)
    remedy = one.result.reasons[0].code.remedy if one.result.reasons else "record it again"
    if one.in_pieces:
        remedy = "say with --count how many parts were dropped"
    raise TeachingError(
        f"the count of this clip is {one.result.status.value} ({reasons})",
        where=one.name,
        allowed="a clip that is counted cleanly",
        remedy=remedy,
    )


def _require_apart(one: Lesson) -> None:
    """Refuse parts that follow each other closer than by the length of one."""
    if not one.seen:
        return
    length = float(np.median([seen.look.length for seen in one.seen]))
    for before, after in pairwise(one.passages):
        speed = max(before.speed_px_s, after.speed_px_s)
        clear = (after.t_ns - before.t_ns) * 1e-9 * speed - length
        if clear < length:
            raise TeachingError(
                f"two parts {max(clear, 0.0):.0f} px apart, of a length of {length:.0f} px",
                where=f"{one.name}: {_at(one, before)}",
                allowed="single parts, at least the length of one apart",
                remedy="drop them one by one, with a pause between",
            )


def _require_whole(one: Lesson) -> None:
    """Refuse passages without a look at their part, and those that are several."""
    seen = {(s.passage.t_ns, s.passage.across_px) for s in one.seen}
    for passage in one.passages:
        if (passage.t_ns, passage.across_px) not in seen or passage.parts != 1:
            what = (
                f"{passage.parts} parts in one region"
                if passage.parts > 1
                else "a part that was too seldom seen whole"
            )
            raise TeachingError(
                what,
                where=f"{one.name}: {_at(one, passage)}",
                allowed="single parts that fall through the view, each seen whole twice or more",
                remedy="drop them one by one through the middle of the view",
            )


def _require_single(places: Sequence[Place]) -> None:
    """Refuse parts so much larger than the usual one that two must have dropped as one."""
    areas = np.array([seen.look.area for _, seen in places])
    usual = float(np.median(areas))
    mad = float(np.median(np.abs(areas - usual)))
    most = max(LARGE * usual, usual + LARGE_MADS * mad)
    for (lesson, seen), area in zip(places, areas, strict=True):
        if area > most:
            raise TeachingError(
                f"a region of {area:.0f} px², where single parts have {usual:.0f} px²",
                where=f"{lesson.name}: {_at(lesson, seen.passage)}",
                allowed="single parts",
                remedy="two must have dropped as one: drop them again, one by one",
            )


def _at(lesson: Lesson, passage: Passage) -> str:
    return f"{(passage.t_ns - lesson.first_ns) * 1e-9:.3f} s"
