"""How fast parts are, by when they will be at the line."""

from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model

from viscount import fall

ACCELERATION = 16000.0


def column(
    count: int = 40, least: float = 2870.0, push: float = 35000.0
) -> tuple[list[float], ...]:
    """Times at the line, s, and speeds there, px/s, of parts 46 px apart that a feeder pushes."""
    speeds = np.sqrt(least**2 + 2.0 * push * 20.0 * np.arange(count))
    return (0.68 + np.cumsum(46.0 / speeds)).tolist(), speeds.tolist()


@pytest.mark.parametrize("place", [-170.0, -120.0, -40.0, 0.0, 150.0])
def test_a_part_of_a_column_is_as_fast_as_it_will_be_at_the_line(place: float) -> None:
    """Also the first ones, soon after which others are much faster."""
    times, speeds = (np.array(values) for values in column())
    known = replace(model(), t_s=times, speed=speeds, acceleration=ACCELERATION)
    seen_s = times + fall.time_to(speeds, ACCELERATION, place)
    found = known.line_speed(seen_s, np.full(times.size, place))
    np.testing.assert_allclose(found, speeds, rtol=0.02)


def test_with_one_speed_alone_all_are_that_fast() -> None:
    known = replace(model(), t_s=np.zeros(1), speed=np.full(1, 3000.0), acceleration=ACCELERATION)
    found = known.line_speed(np.array([0.1, 0.2]), np.array([-100.0, 100.0]))
    np.testing.assert_array_equal(found, [3000.0, 3000.0])


def test_a_guess_is_asked_once() -> None:
    """A model that was not learned keeps to the parts that are at the line just then."""
    times, speeds = (np.array(values) for values in column())
    guess = replace(model(), t_s=times, speed=speeds, acceleration=ACCELERATION, learned=False)
    place, seen_s = np.array([-150.0]), np.array([times[0]])
    first = fall.time_to(speeds[:1], ACCELERATION, place)
    np.testing.assert_allclose(guess.line_speed(seen_s, place), guess.at(seen_s - first))
