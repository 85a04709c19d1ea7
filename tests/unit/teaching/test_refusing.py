"""What cannot teach one part, each with what was found, what is allowed and what to do."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from viscount.agreement.result import result
from viscount.beam.pulses import PulseMaker
from viscount.codes import Code
from viscount.errors import TeachingError
from viscount.motion.geometry import Geometry
from viscount.motion.looks import Look
from viscount.teaching.by_beam import at_beam
from viscount.teaching.lesson import NO_GROWTH, Lesson
from viscount.teaching.making import teaching
from viscount.teaching.refusing import require_singles
from viscount.teaching.singles import AtBeam, Seen
from viscount.values import Basis, Direction, Edge, Falls, Level, Notice, Passage, Pulse

GEOMETRY = Geometry(falls=Falls.DOWN, line_px=80, view=(0, 0, 120, 160), picture=(160, 120))


def passage(k: int, t_ms: float, **more: Any) -> Passage:
    keys: dict[str, Any] = {
        "id": k,
        "t_ns": round(t_ms * 1e6),
        "sigma_ns": 10_000,
        "direction": Direction.WITH,
        "basis": Basis.INTERPOLATED,
        "speed_px_s": 6000.0,
        "across_px": 60.0,
        "length_px": 32.0,
        "parts": 1,
        "doubt": 1e-5,
        "first_frame": 0,
        "last_frame": 9,
    }
    return Passage(**keys | more)


def lesson(
    times_ms: Sequence[float],
    *,
    areas: Sequence[float] | None = None,
    notices: Sequence[Notice] = (),
    unseen: Sequence[int] = (),
    **more: Any,
) -> Lesson:
    passages = [passage(k, t, **more) for k, t in enumerate(times_ms)]
    sizes = areas or [512.0] * len(passages)
    seen = [
        Seen(
            passage=one,
            look=Look(length=32.0, area=area, var_along=85.0, var_across=21.0, speed=6000.0),
            profile=np.ones(24),
        )
        for k, (one, area) in enumerate(zip(passages, sizes, strict=True))
        if k not in unseen
    ]
    return Lesson(
        name="clip.mp4",
        first_ns=0,
        result=result(passages, notices, 0),
        passages=tuple(passages),
        seen=tuple(seen),
        pairs=(),
        growth=NO_GROWTH,
        acceleration_px_s2=0.0,
        geometry=GEOMETRY,
    )


EVERY = [150.0 * k + 7.0 * (k % 3) for k in range(24)]


def refused(*lessons: Lesson, count: int | None = None) -> str:
    with pytest.raises(TeachingError) as caught:
        require_singles(lessons, count)
    assert caught.value.allowed
    assert caught.value.remedy
    return str(caught.value)


def test_twenty_singles_in_several_clips_teach():
    require_singles([lesson(EVERY[:12]), lesson(EVERY[:8])], 20)


def test_another_number_than_was_dropped():
    text = refused(lesson(EVERY), count=25)
    assert text.startswith("--count 25: the clips show 24 parts (clip.mp4: 24)")


def test_too_few():
    assert "19 single parts; allowed: 20 or more" in refused(lesson(EVERY[:19]))


def test_a_doubtful_clip():
    merged = Notice(level=Level.DOUBT, code=Code.PARTS_MERGED, text="1 region too large")
    text = refused(lesson(EVERY, notices=[merged]))
    assert "clip.mp4: the count of this clip is doubtful (parts_merged: 1 region too large" in text
    assert Code.PARTS_MERGED.remedy in text


def test_an_invalid_clip():
    few = Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text="seen once")
    assert "invalid (too_few_sightings: seen once)" in refused(lesson(EVERY, notices=[few]))


def test_parts_in_pieces_without_their_number():
    pieces = Notice(level=Level.DOUBT, code=Code.PIECES_OR_PAIRS, text="24 pairs")
    assert "say with --count how many" in refused(lesson(EVERY, notices=[pieces]))


def test_parts_nearer_than_the_length_of_one():
    near = [*EVERY, EVERY[-1] + 10.0]  # 60 px on, 28 px from tail to head
    assert "clip.mp4: 3.464 s: two parts 28 px apart, of a length of 32 px" in refused(lesson(near))
    require_singles([lesson([*EVERY, EVERY[-1] + 11.0])], None)


def test_two_parts_in_one_region():
    text = refused(lesson(EVERY, parts=2))
    assert "clip.mp4: 0.000 s: 2 parts in one region" in text


def test_a_part_that_was_never_seen_whole():
    assert "0.450 s: a part that was too seldom seen whole" in refused(lesson(EVERY, unseen=[3]))


def test_a_region_as_large_as_two():
    areas = [512.0 + k % 5 for k in range(24)]
    areas[7] = 1020.0
    assert "1.057 s: a region of 1020 px², where single parts have 514" in refused(
        lesson(EVERY, areas=areas)
    )


# ---- spreads


WIDE = [300.0] * 12 + [700.0] * 12


def pulsed(lengths_ms: Sequence[float]) -> list[AtBeam]:
    ends = [round(1e6 * own) for own in lengths_ms]
    pulses = [Pulse(id=k, epoch=0, start_ns=0, end_ns=end) for k, end in enumerate(ends)]
    return [AtBeam(pulses=(pulse,), speed=6000.0) for pulse in pulses]


def test_areas_by_which_one_looks_like_two():
    with pytest.raises(TeachingError, match=r"700.*600.*or teach with --beam"):
        teaching([lesson(EVERY, areas=WIDE)], None, None)


def test_pulses_that_tell_what_areas_do_not_are_a_warning():
    own = pulsed([5.3 + 0.01 * k for k in range(24)])
    found = teaching([lesson(EVERY, areas=WIDE)], [own], 4.0)
    (warning,) = found.warnings
    assert (warning.code, warning.level) == (Code.SINGLES_LIKE_PAIRS, Level.INFO)
    assert warning.text == "area in mm²: one part up to 43.75, two together from 37.5"


def test_areas_that_tell_what_pulses_do_not_are_a_warning():
    own = pulsed([3.0] * 12 + [7.0] * 12)
    (warning,) = teaching([lesson(EVERY)], [own], 4.0).warnings
    assert warning.where == "pulse length in mm"


def test_neither_tells():
    own = pulsed([3.0] * 12 + [7.0] * 12)
    with pytest.raises(TeachingError, match=r"area in mm.*pulse length in mm"):
        teaching([lesson(EVERY, areas=WIDE)], [own], 4.0)


def test_parts_that_the_beam_never_saw():
    unseen = [AtBeam(pulses=(), speed=6000.0)] * 24
    with pytest.raises(TeachingError, match="none of the 24 parts interrupted the beam"):
        teaching([lesson(EVERY)], [unseen], 4.0)


# ---- the beam's log


def at_beam_of(spans_ms: Sequence[tuple[float, float]], *, skip: int | None = None) -> list[AtBeam]:
    """What a log of these dark stretches says of 24 parts; `skip` loses an edge."""
    maker = PulseMaker()
    edges = [(t, dark) for start, end in spans_ms for t, dark in ((start, True), (end, False))]
    pulses = maker.feed(Edge(device_t_ns=0, blocked=False, seq=0))
    for k, (t, dark) in enumerate(edges, start=1):
        if k != skip:
            pulses += maker.feed(Edge(device_t_ns=round((400 + t) * 1e6), blocked=dark, seq=k))
    pulses += maker.finish(10**11)
    return at_beam(lesson(EVERY), pulses, maker.record, 60.0, "beam.csv")


DARKS = [(t, t + 5.3) for t in EVERY]


def test_each_part_gets_its_own_pulses():
    bored = [s for t in EVERY for s in ((t, t + 1.0), (t + 3.0, t + 4.0))]
    assert [len(part.pulses) for part in at_beam_of(DARKS)] == [1] * 24
    assert [len(part.pulses) for part in at_beam_of(bored)] == [2] * 24
    assert at_beam_of(DARKS)[0].speed == pytest.approx(6000.0)


def test_parts_without_a_pulse_are_unseen():
    some = [span for k, span in enumerate(DARKS) if k not in (5, 9)]
    assert [k for k, part in enumerate(at_beam_of(some)) if not part.pulses] == [5, 9]


@pytest.mark.parametrize(
    ("spans", "skip", "found"),
    [
        (DARKS, 5, "beam.csv: the beam's board lost edges"),
        ([], None, "beam.csv: the beam was never interrupted"),
        ([*DARKS, (4000.0, 4005.3)], None, "no part that the camera saw"),
        ([(37.0 * k, 37.0 * k + 5.0) for k in range(5)], None, "of the clocks"),
    ],
    ids=["lost edges", "no pulse", "one pulse too many", "another log"],
)
def test_logs_that_do_not_fit(spans, skip, found: str):
    with pytest.raises(TeachingError) as caught:
        at_beam_of(spans, skip=skip)
    assert found in str(caught.value)
    assert caught.value.remedy
