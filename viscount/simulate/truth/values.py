"""The truth about a simulated pour, as values and as JSON (schema ``viscount.truth/2``)."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from viscount.simulate.barrier import BoardTruth

SCHEMA = "viscount.truth/2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recrossing:
    """A further crossing of the line, of a part that bounced: when, and which way."""

    t_ns: int
    direction: Literal["with", "against"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Separable:
    """Whether parts can be told apart, by what the picture holds of them.

    `with_outlet` where the speed is known, `bare` where it is not; `reasons` say why not.
    """

    with_outlet: bool
    bare: bool
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTruth:
    """One part; times on the capture clock, 0 at the first frame.

    Attributes
    ----------
    pour : number of its pour, from 0.
    release_t_ns : when its centre of mass left the lip.
    line_t_ns : when the centroid of its outline crossed the counting line with the fall, as a
        camera at rest sees it; None where never.
    recrossings : further crossings of the line, up or down.
    beam_t_ns, blade_t_ns : when its centre of mass passed the beam and the blade; None where
        never.
    speed_px_s, speed_mm_s : speed along the fall at the line.
    across_px : image coordinate across the fall at the line.
    length_px : size along the fall at the line, as it was turned there.
    fate, bag : what the gate did to it, and the number of the bag that it fell into.
    frames_visible : delivered frames in which some of it is to be seen.
    hidden : whether it crosses the line and is to be seen in no frame.
    separable : whether it can be told apart from the others.
    bound_sigma_ns : the least standard deviation that an unbiased estimate of `line_t_ns` from
        the pictures can have, where the scene asks for it.
    """

    part: int
    pour: int
    release_t_ns: int
    line_t_ns: int | None
    recrossings: tuple[Recrossing, ...]
    beam_t_ns: int | None
    blade_t_ns: int | None
    speed_px_s: float | None
    speed_mm_s: float | None
    across_px: float | None
    length_px: float | None
    fate: Literal["none", "in_bag", "held", "pinched"]
    bag: int | None
    frames_visible: int
    hidden: bool
    separable: Separable
    bound_sigma_ns: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One part in one frame.

    Attributes
    ----------
    x_px, y_px : the centroid of its outline in the image at its own line's time.
    whole : whether all of it, its blur included, is inside the view and out of the lip.
    visible : share of what of it is inside the view that nothing hides.
    clear_px : background between it and its nearest neighbour, blur taken off; None where it is
        alone.
    contrast_sigma : its contrast in sigmas of the noise.
    """

    part: int
    x_px: float
    y_px: float
    whole: bool
    visible: float
    clear_px: float | None
    contrast_sigma: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTruth:
    """One delivered frame.

    `number` is the camera's own count, `shows` the number of the frame whose picture it
    carries: an earlier one where a picture is repeated. `t_ns` is its true time, `file_t_ns`
    the one in the file. `new` says that it shows its own moment, all over, undamaged.
    """

    number: int
    shows: int
    t_ns: int
    file_t_ns: int
    new: bool
    seen: tuple[Seen, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BagTruth:
    """One bag: how many parts fell into it, lay on the blade before and after, were pinched."""

    bag: int
    content: int
    held_before: int
    held_after: int
    pinched_before: int
    pinched_after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Percentiles of something that differs from part to part."""

    p05: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """All pours of a scene.

    `displacement_per_spacing` is how far parts move between frames, over how far apart they
    are, at the line; None with fewer than two parts.
    """

    scene: str
    seed: int
    falls: str
    line_px: float
    scale_px_per_mm: float
    displacement_per_spacing: Spread | None
    separable: Separable
    parts: tuple[PartTruth, ...]
    bags: tuple[BagTruth, ...]
    board: BoardTruth | None
    frames: tuple[FrameTruth, ...]

    @property
    def crossed(self) -> int:
        """How many parts crossed the counting line, in the end."""
        down = sum(part.line_t_ns is not None for part in self.parts)
        again = [r.direction for part in self.parts for r in part.recrossings]
        return down + again.count("with") - again.count("against")

    def to_json(self) -> str:
        """Return the truth as one JSON object; unknown is null."""
        return json.dumps({"schema": SCHEMA, **asdict(self)}, indent=1, allow_nan=False) + "\n"

    def write(self, path: Path) -> None:
        """Write the truth to `path`."""
        path.write_text(self.to_json(), encoding="utf-8")
