"""The truth about a simulated pour, as values and as JSON (schema ``viscount.truth/2``)."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from viscount.simulate.barrier import BoardTruth

SCHEMA = "viscount.truth/2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recrossing:
    """A further crossing of the line, of a part that bounced or turned back over it.

    Attributes
    ----------
    t_ns : when its centroid crossed, on the capture clock.
    direction : with the fall, or against it.
    """

    t_ns: int
    direction: Literal["with", "against"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Separable:
    """Whether parts can be told apart, by what the picture holds of them.

    Attributes
    ----------
    with_outlet : whether they can where the speed is known.
    bare : whether they can where it is not.
    reasons : why not, in words; empty where they can.
    """

    with_outlet: bool
    bare: bool
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTruth:
    """One part; times on the capture clock, 0 at the first frame.

    Attributes
    ----------
    part : its number, from 0, in the order of release.
    pour : number of its pour, from 0.
    release_t_ns : when its centre of mass left the lip.
    line_t_ns : when the centroid of its outline crossed the counting line with the fall, as a
        camera at rest sees it; None where never.
    recrossings : further crossings of the line, up or down.
    beam_t_ns : when its centre of mass first passed the beam; None where never.
    blade_t_ns : when its centre of mass first passed the blade; None where never.
    speed_px_s, speed_mm_s : speed of its centre of mass along the fall at the line.
    across_px : image coordinate across the fall at the line.
    length_px : size along the fall at the line, as it was turned there.
    fate : what the gate did to it: pinched where it ever was, held where it lies on the blade
        for good, in_bag for the rest; none without a gate.
    bag : number of the bag that it fell into in the end; None where into none.
    frames_visible : delivered frames in which at least 5 % of what of it is inside the view is
        to be seen, repeated, torn and damaged ones among them.
    hidden : whether it crosses the line and is to be seen in no frame, because it is always
        covered, or in view between frames only.
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
    part : its number.
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

    Attributes
    ----------
    number : the camera's own count.
    shows : number of the frame whose picture it carries: an earlier one where it is repeated.
    t_ns : its true time, on the capture clock.
    file_t_ns : its time in the file.
    new : whether it shows its own moment, all over, undamaged.
    seen : the parts of which some is inside the view.
    """

    number: int
    shows: int
    t_ns: int
    file_t_ns: int
    new: bool
    seen: tuple[Seen, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BagTruth:
    """One bag, as a cycle of the gate fills it: how many parts fell into it, and how many did not.

    Attributes
    ----------
    bag : its number, from 0.
    content : parts that fell into it: held before, pinched before and come down meanwhile, less
        held after and pinched after.
    held_before, held_after : parts on the blade, or on others there, when it opened, and when it
        had shut; whether they are past the counting line is another question.
    pinched_before, pinched_after : parts pinched by the blade when it opened, and as it shut.
    """

    bag: int
    content: int
    held_before: int
    held_after: int
    pinched_before: int
    pinched_after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Percentiles of something that differs from part to part.

    Attributes
    ----------
    p05, p50, p95 : 5th, 50th and 95th percentile.
    """

    p05: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """All pours of a scene.

    Attributes
    ----------
    scene, seed : the scene's name and seed.
    falls : direction of the fall in the picture: down, up, left or right.
    line_px : image coordinate of the counting line along the fall.
    scale_px_per_mm : scale in the middle of the picture.
    displacement_per_spacing : how far parts move between frames, over how far apart they are, at
        the line; None with fewer than two parts.
    separable : whether all parts that cross the line can be told apart.
    parts : every part that is let go.
    bags : what the gate's cycles fill; empty where there is no gate.
    board : what the beam's board did to its edges, or None where there is no beam.
    frames : every delivered frame.
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
