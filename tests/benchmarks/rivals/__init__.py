"""What a careful user would write from general-purpose libraries, to count the same sightings.

Each rival takes a `Stream` (what a detector saw, where the line is, how parts fall) and returns
how many parts crossed the line with the fall. None has a range or a status.
"""

from collections.abc import Callable
from typing import Final

from benchmarks.rivals import centroid, kalman, trackpy_linking
from benchmarks.rivals.stream import Stream

RIVALS: Final[dict[str, Callable[[Stream], int]]] = {
    "centroid": centroid.crossings,
    "trackpy": trackpy_linking.crossings,
    "kalman": kalman.crossings,
}
