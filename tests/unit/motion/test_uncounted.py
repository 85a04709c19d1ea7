"""What may have passed without being counted."""

from dataclasses import replace

import pytest
from steady_tracks import model, passing, track

from viscount.motion.crossing import crossed
from viscount.motion.judging import LOST
from viscount.motion.parts import Usual
from viscount.motion.uncounted import possible

LOOK = Usual(area=1400.0, crossed=9, area_spread=20.0, model=model(), view=480.0)


@pytest.mark.parametrize(
    ("change", "doubts"),
    [
        ({}, [LOST]),
        ({"aside": False}, []),  # a speck that falls in the middle of the view
        ({"y": 3.0}, []),  # what stays in its place
    ],
)
def test_slivers_at_the_side_that_fall_as_parts_do_may_be_a_part_beside_the_view(
    change: dict[str, object], doubts: list[float]
) -> None:
    one = passing(50.0)
    one.sights = [replace(sight, **{"aside": True} | change) for sight in one.sights]
    one.along = replace(one.along, speed=0.0 if "y" in change else 3000.0)
    found = possible(crossed([one], LOOK.model), [], [], LOOK, 0)
    assert [(p.parts, p.doubt) for p in found] == [(0, doubt) for doubt in doubts]


@pytest.mark.parametrize(
    ("born", "ended", "area", "doubts"),
    [
        ("beside", "exit", 1400.0, [LOST]),  # it came apart from another
        ("entry", "midway", 1400.0, [LOST]),
        ("beside", "exit", 300.0, []),  # a piece, or a speck
        ("entry", "last frame", 1400.0, []),
        ("first frame", "exit", 1400.0, [LOST]),  # above the line when the clip begins
    ],
)
def test_what_shows_once_as_large_as_a_part_may_be_one(
    born: str, ended: str, area: float, doubts: list[float]
) -> None:
    one = track(64.0, area, sights=1)
    one.born, one.ended = born, ended
    found = possible(crossed([one], LOOK.model), [], [], LOOK, 0)
    assert [(p.parts, p.doubt) for p in found] == [(0, doubt) for doubt in doubts]


def test_what_shows_once_where_something_lies_is_none() -> None:
    """A region that flickers; of two frames that are farther apart nobody says."""
    lying, again, later = (track(64.0, 1400.0, sights=1) for _ in range(3))
    for one, frame in ((lying, 4), (again, 5), (later, 8)):
        one.born, one.ended = "midway", "midway"
        one.sights = [replace(one.sights[0], frame=frame)]
    found = possible(crossed([lying, again, later], LOOK.model), [], [], LOOK, 0)
    assert [p.first_frame for p in found] == [8]


@pytest.mark.parametrize(
    ("blob", "claimed", "still", "doubts"),
    [
        (1, True, False, []),  # a counted part has been in these regions
        (1, False, False, [LOST]),
        (0, True, False, [LOST]),  # that one was in others
        (1, False, True, []),
    ],
)
def test_regions_as_large_as_a_part_belong_to_one(
    blob: int, claimed: bool, still: bool, doubts: list[float]
) -> None:
    """Never alone in them: whoever was thought to share them was lost."""
    lost, other = passing(1400.0), passing(1400.0)
    lost.sights = [replace(s, alone=False, blob=1) for s in lost.sights]
    lost.along = replace(lost.along, speed=0.0 if still else 3000.0)
    lost.born = "beside"
    other.sights = [replace(s, blob=blob, x=s.x + 90.0) for s in other.sights]
    known = crossed([other], LOOK.model) if claimed else []
    found = possible(crossed([lost], LOOK.model), known, [], LOOK, 0)
    assert [p.doubt for p in found] == doubts
    active = possible(crossed([lost], LOOK.model), [], [lost], LOOK, 0)
    assert active == []


@pytest.mark.parametrize(
    ("area", "sights", "doubts"),
    [
        (2800.0, 8, [LOST]),
        (1400.0, 1, [LOST]),
        (2800.0, 1, []),
        (2800.0, 3, []),  # above the line: what comes apart is counted then
    ],
)
def test_regions_as_large_as_several_parts_belong_to_several(
    area: float, sights: int, doubts: list[float]
) -> None:
    """Where they fall as parts do; what flares up once may be anything."""
    lost = passing(area)
    lost.born, lost.sights = "beside", lost.sights[:sights]
    if sights > 1:
        lost.sights = [replace(sight, alone=False) for sight in lost.sights]
    found = possible(crossed([lost], LOOK.model), [], [], LOOK, 0)
    assert [p.doubt for p in found] == doubts


@pytest.mark.parametrize(("strays", "doubts"), [(1, []), (2, [LOST, LOST])])
def test_a_region_where_a_counted_part_is_missing_may_be_that_ones(
    strays: int, doubts: list[float]
) -> None:
    """A torn picture shows it elsewhere, or another track took it; two regions it cannot be."""
    part = passing(1400.0)
    taken = part.sights.pop(4)
    others = [track(64.0, 1400.0, sights=1) for _ in range(strays)]
    for k, one in enumerate(others):
        one.born, one.sights = "beside", [replace(taken, blob=k + 8, x=taken.x + 40.0 * (k + 1))]
    found = possible(crossed(others, LOOK.model), crossed([part], LOOK.model), [], LOOK, 0)
    assert [p.doubt for p in found] == doubts


@pytest.mark.parametrize(("step_px", "doubts"), [(8.0, 0), (15.0, 2)])
def test_what_creeps_did_not_come_with_the_others(step_px: float, doubts: int) -> None:
    """Parts make 25 px from frame to frame; this one lay there, and begins to fall."""
    here, there = (track(64.0, 1400.0, sights=1) for _ in range(2))
    here.born = there.born = "midway"
    sight = here.sights[0]
    there.sights = [replace(sight, frame=sight.frame + 1, y=sight.y + step_px)]
    found = possible(crossed([here, there], LOOK.model), [], [], LOOK, 0)
    assert len(found) == doubts


@pytest.mark.parametrize(("whole", "doubts"), [(True, [LOST]), (False, [])])
def test_what_a_border_cuts_may_be_any_part_of_one(whole: bool, doubts: list[float]) -> None:
    one = track(64.0, 1400.0, sights=1)
    one.born, one.sights = "midway", [replace(one.sights[0], whole=whole)]
    found = possible(crossed([one], LOOK.model), [], [], LOOK, 0)
    assert [p.doubt for p in found] == doubts


def test_what_lies_where_a_counted_part_has_been_is_that_one() -> None:
    counted, again = passing(1400.0), track(64.0, 1400.0, sights=1)
    last = counted.sights[-1]
    again.born = "beside"
    again.sights = [replace(last, frame=last.frame + 1, y=last.y + 1.0)]
    known = crossed([counted], LOOK.model)
    assert possible(crossed([again], LOOK.model), known, [], LOOK, 0) == []
    again.sights = [replace(last, frame=last.frame + 2, y=last.y + 1.0)]
    assert len(possible(crossed([again], LOOK.model), known, [], LOOK, 0)) == 1
