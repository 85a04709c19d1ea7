"""What a passage stands for, and how sure that is."""

import math
from dataclasses import replace

import pytest
from steady_tracks import model, passing, track

from viscount.motion.crossing import crossed
from viscount.motion.judging import LOST, UNSURE, passages, without_twins
from viscount.motion.parts import Usual
from viscount.motion.track import Track
from viscount.values import Passage

LOOK = Usual(area=1400.0, crossed=9, area_spread=20.0, model=model(), view=480.0)


def judged(one: Track) -> Passage:
    (found,) = [p for c in crossed([one], LOOK.model) for p in passages(c, LOOK, 0)]
    return found


def with_holes(one: Track) -> Track:
    """The same seen in every other frame."""
    one.sights = [
        replace(sight, frame=2 * k, t_s=2 * sight.t_s, y=2 * sight.y)
        for k, sight in enumerate(one.sights)
    ]
    return one


def test_a_part_seen_all_the_way_is_one_and_sure() -> None:
    found = judged(passing(1400.0))
    assert (found.parts, found.doubt < 0.01) == (1, True)


@pytest.mark.parametrize(("missed", "sights", "sure"), [(1, 3, True), (2, 3, False), (2, 8, True)])
def test_a_part_that_was_above_the_line_and_then_nowhere_is_unsure(
    missed: int, sights: int, sure: bool
) -> None:
    """In the frame after it has left it is missing; below the line it may be lost."""
    one = passing(1400.0)
    one.sights, one.missed = one.sights[:sights], missed
    assert (judged(one).doubt < UNSURE) is sure


def test_what_is_seen_here_and_there_and_is_too_small_is_none_and_unsure() -> None:
    found = judged(with_holes(passing(300.0)))
    assert found.parts == 0
    assert found.doubt >= UNSURE


def test_a_part_of_the_usual_size_may_be_seen_here_and_there() -> None:
    assert judged(with_holes(passing(1400.0))).parts == 1


def test_a_part_that_comes_back_as_a_speck_is_unsure() -> None:
    """Their mean is the usual area, and it was seen on both sides of the line."""
    one = with_holes(passing(2790.0))
    one.sights[-3:] = [replace(sight, area=10.0) for sight in one.sights[-3:]]
    one.sights[2:4] = []
    assert judged(one).doubt >= UNSURE


def test_a_corner_that_becomes_a_speck_is_unsure() -> None:
    """What the border cuts is larger still than it shows."""
    one = passing(1400.0)
    one.sights = [
        replace(one.sights[0], whole=False),
        *(replace(sight, area=10.0) for sight in one.sights[6:7]),
    ]
    assert judged(one).doubt >= UNSURE


@pytest.mark.parametrize("sights", [3, 4])
def test_a_short_track_that_strays_far_off_every_path_is_unsure(sights: int) -> None:
    """Strangers were linked; where they lie on one path, nothing tells."""
    lawful, straying = (track(64.0, 1400.0, sights=sights) for _ in range(2))
    straying.sights[1] = replace(straying.sights[1], y=straying.sights[1].y - 8.0)
    assert judged(lawful).doubt < 0.01
    assert judged(straying).doubt >= UNSURE


@pytest.mark.parametrize("side", [-1, 1])
def test_what_rests_next_to_the_line_may_be_on_the_other_side(side: int) -> None:
    """Two sigma off the line: the normal distribution leaves 2.28 % beyond (table of Phi)."""
    one = passing(1400.0)
    one.sights = [*one.sights[:3], replace(one.sights[3], y=side * 2.0, var_y=1.0)]
    one.ended, one.halted_s = "rest", one.sights[-1].t_s
    found = judged(one)
    assert found.parts == (side > 0)
    assert found.doubt == pytest.approx(0.02275, abs=1e-4)


def test_what_rests_far_above_the_line_is_nothing() -> None:
    one = passing(1400.0)
    one.sights, one.ended = one.sights[:3], "rest"
    assert passages(crossed([one], LOOK.model)[0], LOOK, 0) == []


@pytest.mark.parametrize(("place", "doubted"), [(20.0, True), (0.2, False)])
def test_what_seems_to_go_back_after_it_was_clearly_beyond_is_unsure(
    place: float, doubted: bool
) -> None:
    """What was seen later is another part, which it was linked to; beside the line it may be
    jitter."""
    one = passing(1400.0)
    places = [-95.0, -70.0, -45.0, -20.0, place, -60.0, -30.0, -90.0]
    one.sights = [replace(s, y=y) for s, y in zip(one.sights, places, strict=True)]
    one.along = replace(one.along, speed=-3000.0)
    found = [p for c in crossed([one], LOOK.model) for p in passages(c, LOOK, 0)]
    assert [(p.parts, p.doubt) for p in found] == [(0, LOST)] * doubted
    at_s = one.sights[4].t_s - 20.0 / float(LOOK.model.usual_speed)
    assert [p.t_ns * 1e-9 for p in found] == pytest.approx([at_s] * doubted)


@pytest.mark.parametrize(("own", "unsure"), [(0, True), (2, False)])
def test_what_has_nothing_of_its_own_beyond_the_line_may_follow_another_part(
    own: int, unsure: bool
) -> None:
    """It was lost for some frames, and is thought to be in another part's region after them."""
    one = passing(1400.0)
    one.sights = [
        *one.sights[:3],
        *(replace(s, frame=s.frame + 6, alone=k >= 4 - own) for k, s in enumerate(one.sights[4:])),
    ]
    assert (judged(one).doubt >= UNSURE) is unsure


@pytest.mark.parametrize(
    ("own", "area", "unsure"),
    [(0, 1400.0, False), (2, 1400.0, True), (3, 1400.0, False), (3, 800.0, True)],
)
def test_what_was_seldom_a_part_by_itself_and_shares_a_region_at_the_line_is_unsure(
    own: int, area: float, unsure: bool
) -> None:
    """Dust that took over a part, or a piece of one that is counted already."""
    one = passing(1400.0)
    one.sights = [
        *(replace(sight, area=area) for sight in one.sights[:own]),
        *(replace(sight, alone=False) for sight in one.sights[own:]),
    ]
    assert (judged(one).doubt >= UNSURE) is unsure


@pytest.mark.parametrize(
    ("area", "seen", "unsure"), [(140.0, 2, True), (140.0, 3, False), (700.0, 2, False)]
)
def test_what_is_far_smaller_and_was_seldom_seen_may_be_dust(
    area: float, seen: int, unsure: bool
) -> None:
    one = passing(area)
    one.sights = one.sights[2:][:seen]
    assert (judged(one).doubt >= UNSURE) is unsure


@pytest.mark.parametrize("alone", [True, False])
def test_what_begins_as_a_speck_and_goes_on_in_a_part_is_unsure(alone: bool) -> None:
    """Nobody else is counted there; one that shares from the first is that part itself."""
    one = passing(1400.0)
    first, *others = one.sights
    speck = replace(first, whole=False, area=4.0, alone=alone)
    one.sights = [speck, *(replace(sight, alone=False) for sight in others)]
    assert (judged(one).doubt >= UNSURE) is alone


@pytest.mark.parametrize(("area", "unsure"), [(1000.0, False), (700.0, True)])
def test_what_a_border_cuts_is_a_part_by_itself_where_it_is_as_large(
    area: float, unsure: bool
) -> None:
    one = passing(1400.0)
    one.sights = [
        replace(one.sights[0], whole=False, area=area),
        *one.sights[1:3],
        *(replace(sight, alone=False) for sight in one.sights[3:]),
    ]
    assert (judged(one).doubt >= UNSURE) is unsure


@pytest.mark.parametrize(("area", "number"), [(300.0, 1), (600.0, 2)])
def test_large_regions_side_by_side_at_a_border_are_no_corners_of_one_part(
    area: float, number: int
) -> None:
    """Between them, in one frame, both are in one region."""
    left = passing(1400.0)
    left.sights[0] = replace(left.sights[0], whole=False, area=700.0)
    right = replace(left, sights=[replace(left.sights[k], x=80.0, blob=1) for k in (0, 7)])
    right.sights = [replace(sight, whole=False, area=area) for sight in right.sights]
    assert len(without_twins(crossed([left, right], LOOK.model), LOOK)) == number


@pytest.mark.parametrize(("area", "number"), [(700.0, 1), (800.0, 2)])
def test_pieces_of_a_torn_part_are_no_two_parts(area: float, number: int) -> None:
    """In one frame both are whole; later the second is thought to be in the first one's region."""
    first = passing(1400.0)
    second = replace(first, sights=[replace(first.sights[k], x=80.0, blob=1) for k in (2, 7)])
    second.sights[0] = replace(second.sights[0], area=area)
    first.sights[2] = replace(first.sights[2], area=700.0)
    first.sights[7:] = []
    first.ended = second.ended = "exit"
    assert len(without_twins(crossed([first, second], LOOK.model), LOOK)) == number


def test_errors_that_all_sightings_share_are_in_the_sigma_of_a_crossing() -> None:
    """Of eight sightings a mean is surer than one is; of what they have in common it is not."""
    one = passing(1400.0)
    model = replace(LOOK.model, sigma_shape_px=one.sights[0].var_y ** 0.5)
    (alone,) = crossed([one], model)[0].crossings
    (shared,) = crossed([one], model, 0.5)[0].crossings
    of_one_s = (0.5 * one.sights[0].var_y) ** 0.5 / shared.speed
    assert shared.sigma_s == pytest.approx(math.hypot(alone.sigma_s, of_one_s))


def test_beside_one_in_regions_for_two_the_other_is_no_echo() -> None:
    """Both cross at once; the first was lost where the other came in."""
    seen_before, together = passing(1400.0), passing(2800.0)
    seen_before.sights = seen_before.sights[:3]
    together.sights = [replace(sight, alone=False) for sight in together.sights[3:]]
    both = crossed([seen_before, together], LOOK.model)
    assert [len(one.crossings) for one in both] == [1, 1]
    assert len(without_twins(both, LOOK)) == 2
    together.sights = [replace(sight, area=1400.0) for sight in together.sights]
    assert len(without_twins(crossed([seen_before, together], LOOK.model), LOOK)) == 1


@pytest.mark.parametrize(
    ("view", "area", "doubts"),
    [
        (120.0, 1400.0, [LOST]),  # parts are seen five times
        (120.0, 600.0, []),  # a speck
        (480.0, 1400.0, []),  # seen nineteen times: chance links two regions
    ],
)
def test_what_appears_in_plain_view_below_the_line_may_be_a_part(
    view: float, area: float, doubts: list[float]
) -> None:
    """Seen twice, where no part is seen much more often."""
    one = track(64.0, area, sights=2)
    one.sights = [replace(sight, y=sight.y + 60.0) for sight in one.sights]
    one.born, one.ended = "midway", "exit"
    (found,) = crossed([one], LOOK.model)
    assert not found.crossings
    assert [p.doubt for p in passages(found, replace(LOOK, view=view), 0)] == doubts
