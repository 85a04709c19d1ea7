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
    waist : width of the outline between two broader places, over the lesser of these, above 0 to
        1; 1 where it is nowhere narrower in between. None where nobody looked.
    bores : number of openings of about the same size in it; None where nobody looked.
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
    waist: float | None = None
    bores: int | None = None


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


class Pairs(StrEnum):
    """What a pairing says of its passages and pulses."""

    AGREED = "agreed"
    CAMERA_ONLY = "camera only"
    BEAM_ONLY = "beam only"
    MERGED_PULSE = "merged pulse"
    SPLIT_PULSE = "split pulse"
    AMBIGUOUS = "ambiguous"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One change of the beam, as its board reported it.

    Attributes
    ----------
    device_t_ns : the board's own clock as it stands: it may wrap, and falls at a restart.
    blocked : the beam is dark from here on; else light.
    seq : the board's number of this edge, or None where it sends none.
    boot : which run of the board it belongs to, or None where it does not say.
    """

    device_t_ns: int
    blocked: bool
    seq: int | None = None
    boot: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """One interruption of the beam, from blocked to clear, spikes removed.

    Attributes
    ----------
    id : our own count of pulses, from 0.
    epoch : which stretch of the board's clock, from 0. Each restart begins another; times of
        different epochs cannot be compared.
    start_ns, end_ns : on the board's clock, unwrapped: rising within an epoch.
    spikes : light or dark spikes removed inside, each shorter than a part can make.
    lost_edges : 1 where the edge that begins it or the one that ends it is known to be missing,
        else 0; it then lasts as far as it is known to be dark, maybe no time at all.
    cut : its start or its end was not seen (the log, or a gap in it, cuts it off); its length is
        then only a least length.
    """

    id: int
    epoch: int
    start_ns: int
    end_ns: int
    spikes: int = 0
    lost_edges: int = 0
    cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One way in which a single part darkens the beam: dark, light, dark ... along the fall.

    Attributes
    ----------
    chance : how often a single part does it this way, > 0 to 1.
    darks : lengths of its dark stretches in the order in which they pass, one or more.
    lights : lengths of the light stretches between them, one less than `darks`.
    sigma : standard deviation of each of these lengths from part to part.
    lead : how far the part's head is past the beam when the first dark begins, >= 0: a ray beside
        the middle of a round part meets it later than its head.
    lead_sigma : standard deviation of that from part to part, beside what `even` tells.
    even : darks that are longer in all begin half as much earlier, as with a round part, whose
        middle stays where it is. Else longer ones end later.

    All lengths in the unit of their `Signature`.
    """

    chance: float
    darks: tuple[float, ...]
    lights: tuple[float, ...]
    sigma: float
    lead: float = 0.0
    lead_sigma: float = 0.0
    even: bool = False

    @property
    def whole(self) -> float:
        """From the first dark's start to the last one's end."""
        return sum(self.darks) + sum(self.lights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """How one kind of part darkens the beam: a mixture of modes.

    A flat ring gives two pulses where the beam passes its bore and one beside it, so a pattern
    alone does not tell it; no debounce time replaces it.

    Attributes
    ----------
    unit : "mm", "px" (time in the beam times speed there) or "ms" (time alone, where no speed
        is known).
    modes : their chances add up to 1 - `unseen`.
    unseen : the chance that a single part gives no pulse at all.
    """

    unit: str
    modes: tuple[Mode, ...]
    unseen: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unwatched:
    """A stretch of the board's time in which the beam's edges are not all known.

    Where a restart ends an epoch, `end_ns` equals `start_ns`: no clock says how long it took.

    Attributes
    ----------
    edges_lost : how many, or None where nobody knows.
    pulses_lost : interruptions of which neither edge arrived, or None where nobody knows. Those
        of which one edge arrived are pulses, with `lost_edges`.
    """

    epoch: int
    start_ns: int
    end_ns: int
    edges_lost: int | None
    pulses_lost: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """One epoch of a beam: the board's time from the log's first state to its stated end.

    Without a stated end, and before a restart, it ends with the last edge.
    """

    epoch: int
    start_ns: int
    end_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LampEvent:
    """The lamp in the view went on, or off.

    The board switches it with each pulse (on while the beam is blocked, or over at each start),
    or on with the first pulse of a pour and off with its last one; which of them, the events
    tell. `sigma_ns` is that of a frame's time, a third of its interval or so.
    """

    t_ns: int
    on: bool
    sigma_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Which passages and which pulses are the same part, or parts.

    Attributes
    ----------
    kind : see `Pairs`.
    passages, pulses : their ids, in order of time; one of them may be empty, never both.
    parts : how many parts went through, negative where they went back up.
    doubt : chance that `parts` is wrong, 0 to 1.
    fewer : the share of `doubt` that fewer went through than `parts`; the rest is more.
    excused : the counter that has nothing of it was not watching.
    t_ns : when its first part reached the beam, on the capture clock; None where no clock tells.
    late_ns : pulse start minus where the clocks and the fall put it, or None without both.
    why : in words for the packer, where the counters differ; else empty.
    """

    kind: Pairs
    passages: tuple[int, ...]
    pulses: tuple[int, ...]
    parts: int
    doubt: float
    fewer: float = 0.0
    excused: bool = False
    t_ns: int | None = None
    late_ns: int | None = None
    why: str = ""
