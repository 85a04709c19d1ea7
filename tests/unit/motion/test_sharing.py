"""Regions that several parts share."""

from steady_tracks import track
from streams import blob

from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import predict
from viscount.motion.sharing import FOLLOWED, alone, joined
from viscount.motion.track import Axis, Track
from viscount.values import Falls, Sighting

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=0.0, view=(0, 0, 160, 480), picture=VIEW)


def at(x: float, y: float, area: float = 1400.0, sights: int = FOLLOWED) -> Track:
    """A part that stands at a place, seen so often, last a frame ago."""

    def axis(place: float) -> Axis:
        return Axis(
            place=place,
            speed=0.0,
            var_place=0.1,
            cov=0.0,
            var_speed=1.0,
            acceleration=0.0,
            var_acceleration=0.0,
        )

    one = track(60.0, area, sights=sights)
    one.along, one.across = axis(y), axis(x)
    return one


def meeting(*tracks: Track, lost: list[int] | None = None) -> list[bool]:
    """Whether one region, as large as two parts, and another, as large as one, are two parts."""
    blobs = (blob(80, 200, 40, 70, VIEW), blob(80, 400, 20, 70, VIEW))
    now = detections(Sighting(index=0, t_ns=0, blobs=blobs), GEOMETRY, 0)
    ahead = predict(list(tracks), now, GEOMETRY)
    lost = list(range(len(tracks))) if lost is None else lost
    return list(map(bool, joined(list(tracks), ahead, lost, now)))


def test_two_that_were_lost_in_one_region_of_their_size_are_it():
    assert meeting(at(70, 195), at(90, 205)) == [True, False]


def test_one_that_is_seen_elsewhere_is_not_in_it():
    assert meeting(at(70, 195), at(90, 205), lost=[0]) == [False, False]


def test_a_speck_beside_a_part_makes_no_two():
    assert meeting(at(70, 195, 2700.0), at(90, 205, 100.0)) == [False, False]


def test_what_was_hardly_seen_may_be_the_region_itself():
    assert meeting(at(70, 195), at(90, 205, sights=FOLLOWED - 1)) == [False, False]


def by_itself(lost_area: float) -> bool:
    """Whether a region as large as one part is one part only, where another was lost in it."""
    now = detections(Sighting(index=0, t_ns=0, blobs=(blob(80, 200, 20, 70, VIEW),)), GEOMETRY, 0)
    lost = [at(80, 200, lost_area, sights=1)]
    return bool(alone(lost, predict(lost, now, GEOMETRY), [0], now)[0])


def test_a_region_may_hide_another_part() -> None:
    assert not by_itself(1400.0)


def test_a_region_that_came_apart_is_in_none_of_its_pieces() -> None:
    """Two that came in as one region are no third part in either of the two."""
    assert by_itself(2800.0)
