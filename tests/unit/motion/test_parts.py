"""Which tracks are parts of their own."""

from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model

from viscount.motion.crossing import Crossed
from viscount.motion.judging import without_echoes
from viscount.motion.parts import Size, Usual, is_echo, is_part, standing_out, usual
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Axis, Track

AXIS = Axis(
    place=0.0,
    speed=1.0,
    var_place=1.0,
    cov=0.0,
    var_speed=1.0,
    acceleration=0.0,
    var_acceleration=0.0,
)


def sight(frame: int, area: float, *, whole: bool, alone: bool) -> Sight:
    return Sight(
        frame=frame,
        blob=0,
        t_s=frame / 120,
        y=40.0 * frame,
        x=50.0,
        var_y=0.1,
        var_x=0.1,
        length=20.0,
        behind=10.0,
        area=area,
        whole=whole,
        alone=alone,
    )


def track(*sights: Sight) -> Track:
    return Track(along=AXIS, across=AXIS, t_s=0.0, sights=list(sights))


MODEL = SpeedModel(
    t_s=np.zeros(1),
    speed=np.array([4800.0]),
    spread=0.05,
    acceleration=0.0,
    sigma_acceleration=1.0,
    interval_s=1 / 120,
)


@pytest.fixture
def look() -> Usual:
    return Usual(area=800.0, crossed=9, area_spread=10.0, model=MODEL, view=480.0)


SLIVER = sight(0, 20.0, whole=False, alone=True)
ANOTHERS = [sight(k, 810.0, whole=True, alone=False) for k in range(1, 6)]


def test_what_begins_as_a_sliver_and_shares_one_part_is_an_echo(look: Usual) -> None:
    assert is_echo(track(SLIVER, *ANOTHERS), look)


def test_two_parts_in_one_region_are_no_echo(look: Usual) -> None:
    """The region is as large as two."""
    large = [sight(k, 1600.0, whole=True, alone=False) for k in range(1, 6)]
    assert not is_echo(track(SLIVER, *large), look)


def test_what_was_once_seen_by_itself_is_no_echo(look: Usual) -> None:
    own = sight(6, 790.0, whole=True, alone=True)
    assert not is_echo(track(SLIVER, *ANOTHERS, own), look)
    # Cut by the border, but a good part of a part.
    half = sight(0, 420.0, whole=False, alone=True)
    assert not is_echo(track(half, *ANOTHERS), look)


def test_without_a_usual_size_nothing_is_said(look: Usual) -> None:
    assert not is_echo(track(SLIVER, *ANOTHERS), replace(look, area=None))


def echoes(look: Usual, *tracks: Track) -> list[Track]:
    crossed = [Crossed(track=one, crossings=[]) for one in tracks]
    return [one.track for one in without_echoes(crossed, look)]


def owner() -> Track:
    """Another part's track, in the very regions that the echo shares."""
    made = track(*[replace(s, alone=k > 2) for k, s in enumerate(ANOTHERS)])
    made.length = 20.0
    return made


def test_an_echo_of_a_counted_part_is_left_out(look: Usual) -> None:
    part, echo = owner(), track(SLIVER, *ANOTHERS)
    assert echoes(look, echo, part) == [part]


def test_an_echo_may_have_taken_regions_that_a_counted_part_falls_through(look: Usual) -> None:
    """By the law of the fall; on a straight way the part would have been elsewhere."""
    pull = 4e5
    fallen = [replace(s, y=s.y + 0.5 * pull * s.t_s**2) for s in ANOTHERS]
    part = track(*(replace(s, alone=True) for s in fallen if s.frame not in (3, 4)))
    part.length = 20.0
    echo = track(SLIVER, *fallen[2:4])
    falls = replace(look, model=replace(MODEL, acceleration=pull))
    assert echoes(falls, echo, part) == [part]
    assert echoes(look, echo, part) == [part, echo]


def test_a_part_whose_regions_no_other_counted_track_follows_stays(look: Usual) -> None:
    """What shared them was a stub at the border that came to nothing."""
    echo = track(SLIVER, *ANOTHERS)
    elsewhere = owner()
    elsewhere.sights = [replace(s, y=s.y + 90.0) for s in elsewhere.sights]
    assert echoes(look, echo) == [echo]
    assert echoes(look, echo, elsewhere) == [elsewhere, echo]


def test_an_echo_that_was_hardly_followed_stays_for_its_doubt(look: Usual) -> None:
    """It counts for nothing, but nothing is left out without a word."""
    echo = track(SLIVER, sight(22, 720.0, whole=False, alone=False))
    assert echoes(look, echo) == [echo]


def test_of_two_echoes_of_one_region_one_stays(look: Usual) -> None:
    first, second = track(SLIVER, *ANOTHERS), track(SLIVER, *ANOTHERS)
    for one in (first, second):
        one.length = 20.0
    assert len(echoes(look, first, second)) == 1


@pytest.mark.parametrize(
    ("seen", "area", "part"),
    [(7, 810.0, True), (4, 810.0, False), (7, 1600.0, False), (7, 300.0, False)],
    ids=["single", "too short", "two", "piece"],
)
def test_beside_a_part_that_was_lost_stays_what_is_single(
    look: Usual, seen: int, area: float, part: bool
) -> None:
    """The lost one may be thought to be in all of its regions, which no other part follows."""
    came_out = track(*[sight(k, area, whole=True, alone=False) for k in range(seen)])
    came_out.born = "beside"
    assert is_part(came_out, replace(look, model=MODEL)) is part


def test_one_that_shrinks_as_it_turns_stays_single(look: Usual) -> None:
    """Seen for long, and once in full: it is no piece of another part."""
    look = replace(look, model=MODEL)
    turning = track(*[sight(k, 780.0 - 50.0 * k, whole=True, alone=False) for k in range(11)])
    piece = track(*[sight(k, 380.0 - 20.0 * k, whole=True, alone=False) for k in range(11)])
    turning.born = piece.born = "beside"
    assert is_part(turning, look)
    assert not is_part(piece, look)


def test_what_stands_out_is_told_by_the_parts_next_to_it() -> None:
    """Parts grow by a quarter along the pour; the one in the middle is so much larger at once."""
    areas = np.geomspace(400.0, 500.0, 300)
    areas[150] *= 1.25
    parts = np.array([Size(a, 20.0, a, 0.01 * k) for k, a in enumerate(areas)])
    own = usual(parts, model(), 480.0)
    assert standing_out(areas) == np.inf
    standing = [k for k, (area, _, _, t_s) in enumerate(parts) if area >= own.outlying(t_s)]
    assert standing == [150]
    few = usual(parts[140:160], model(), 480.0)
    assert few.outlying(0.0) == few.outlying(9.0) == areas[150]
