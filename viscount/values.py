"""The frozen values that flow from room to room.

Times are int nanoseconds on the capture clock. Image positions are in px: x to the right,
y down, (0, 0) the centre of the first pixel; boxes are half-open; arrays are (height, width).
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from viscount.codes import Code


class Falls(StrEnum):
    """The direction in the picture in which parts fall."""

    DOWN = "down"
    UP = "up"
    LEFT = "left"
    RIGHT = "right"

    @property
    def vertical(self) -> bool:
        """Whether the fall runs along y."""
        return self in (Falls.DOWN, Falls.UP)

    @property
    def sign(self) -> int:
        """+1 where the image coordinate along the fall grows downstream, else -1."""
        return 1 if self in (Falls.DOWN, Falls.RIGHT) else -1


class Direction(StrEnum):
    """Whether a passage goes with the fall, or back up against it."""

    WITH = "with"
    AGAINST = "against"


class Basis(StrEnum):
    """How a passage's time was found: between two sightings, or beyond the last one."""

    INTERPOLATED = "interpolated"
    EXTRAPOLATED = "extrapolated"


class Status(StrEnum):
    """How far a count can be trusted."""

    CLEAN = "clean"
    DOUBTFUL = "doubtful"
    INVALID = "invalid"


class Level(StrEnum):
    """What a notice does to the status of the count."""

    INFO = "info"
    DOUBT = "doubt"
    INVALID = "invalid"


class Marks(StrEnum):
    """The moment of the exposure that a frame's time marks."""

    START = "start"
    MIDDLE = "middle"
    END = "end"
    ARRIVAL = "arrival"
    UNKNOWN = "unknown"


class Seeing(StrEnum):
    """Whether a detector can see parts in this frame."""

    WARMING_UP = "warming up"
    SEEING = "seeing"
    BLIND = "blind"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something the user must know, with its place."""

    level: Level
    code: "Code"
    text: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """One picture with its time.

    Attributes
    ----------
    index : our own count of frames, from 0.
    seq : the camera's counter, or None.
    t_ns : the time that `marks` speaks of, on the capture clock.
    exposure_ns : exposure time, or None where unknown.
    pixels : uint8, (H, W), read-only luma; a view wherever possible.
    age_ns : how old the picture was when it was handed over; 0 for recorded clips.
    damaged : the decoder reported errors in this picture.
    repeated : the picture equals the one before, pixel for pixel.
    """

    index: int
    t_ns: int
    pixels: NDArray[np.uint8]
    seq: int | None = None
    marks: Marks = Marks.UNKNOWN
    exposure_ns: int | None = None
    age_ns: int = 0
    damaged: bool = False
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blob:
    """One connected foreground region.

    Attributes
    ----------
    x_px, y_px : grey-weighted centre.
    sigma_x_px, sigma_y_px : standard uncertainty of that centre, each > 0.
    area_px : number of foreground pixels, bores not included.
    box : (x0, y0, x1, y1), half-open.
    moments : second central moments (xx, xy, yy) in px².
    profile : (n,) foreground width in px for each pixel of the box along the fall,
        in the order of the image coordinate.
    cut_by_edge : the region touches the border of the view.
    """

    x_px: float
    y_px: float
    sigma_x_px: float
    sigma_y_px: float
    area_px: float
    box: tuple[int, int, int, int]
    moments: tuple[float, float, float]
    profile: NDArray[np.uint16]
    cut_by_edge: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighting:
    """One frame's answer from a detector.

    `detectable_contrast` is the least grey step from the background that would be seen as
    foreground, or None while that is unknown.
    """

    index: int
    t_ns: int
    blobs: tuple[Blob, ...]
    state: Seeing = Seeing.SEEING
    detectable_contrast: float | None = None
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One part (or a clump of `parts`) crossing the counting line.

    Attributes
    ----------
    t_ns, sigma_ns : time of the crossing and its standard uncertainty.
    speed_px_s : speed along the fall at the line, positive with the fall.
    across_px : image coordinate across the fall at the line.
    length_px : length of the part along the fall, or None where no whole sighting exists.
    doubt : chance that `parts` is wrong, 0 to 1.
    first_frame, last_frame : frames between which the part was followed.
    """

    id: int
    t_ns: int
    sigma_ns: int
    direction: Direction
    basis: Basis
    speed_px_s: float
    across_px: float
    length_px: float | None
    parts: int
    doubt: float
    first_frame: int
    last_frame: int
