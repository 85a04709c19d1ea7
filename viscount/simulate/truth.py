"""What truly happened in a simulated pour, as values and as JSON (schema ``viscount.truth/1``)."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright, upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.silhouette import Silhouette, silhouette

SCHEMA = "viscount.truth/1"
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTruth:
    """One part; times on the capture clock, 0 at the first frame, of its centroid.

    Attributes
    ----------
    release_t_ns : when it left the lip.
    line_t_ns, beam_t_ns : when it crossed the counting line and the beam; None where never.
    speed_px_s, speed_mm_s : speed along the fall at the line.
    across_px : image coordinate across the fall at the line.
    length_px : size along the fall at the line, as it was turned there.
    """

    part: int
    release_t_ns: int
    line_t_ns: int | None
    beam_t_ns: int | None
    speed_px_s: float | None
    speed_mm_s: float | None
    across_px: float | None
    length_px: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One part in one frame: its image centre at its own line's time; whole, or cut."""

    part: int
    x_px: float
    y_px: float
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTruth:
    """One delivered frame.

    `number` is the camera's own count, `shows` the number of the frame whose picture it
    carries: an earlier one where a picture is repeated.
    """

    number: int
    shows: int
    t_ns: int
    seen: tuple[Seen, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """A whole pour."""

    scene: str
    falls: str
    line_px: float
    scale_px_per_mm: float
    parts: tuple[PartTruth, ...]
    frames: tuple[FrameTruth, ...]

    @property
    def crossed(self) -> int:
        """How many parts crossed the counting line."""
        return sum(part.line_t_ns is not None for part in self.parts)

    def to_json(self) -> str:
        """Return the truth as one JSON object; unknown is null."""
        return json.dumps({"schema": SCHEMA, **asdict(self)}, indent=1, allow_nan=False) + "\n"

    def write(self, path: Path) -> None:
        """Write the truth to `path`."""
        path.write_text(self.to_json(), encoding="utf-8")


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTime:
    """A delivered frame: the camera's number, whose picture it shows, and its time."""

    number: int
    shows: int
    t_ns: int


def truth(scene: Scene, paths: Paths, times: tuple[FrameTime, ...]) -> Truth:
    """Work out what truly happened, from the integrated paths alone."""
    up = upright(scene)
    outlines = [silhouette(scene.part(k), up.scale) for k in range(paths.count)]
    end_ns = times[-1].t_ns if times else 0
    return Truth(
        scene=scene.name,
        falls=scene.view.falls.value,
        line_px=scene.view.line_px,
        scale_px_per_mm=up.scale,
        parts=_parts(scene, paths, up, outlines, end_ns),
        frames=tuple(
            FrameTruth(
                number=time.number,
                shows=time.shows,
                t_ns=time.t_ns,
                seen=_seen(paths, up, outlines, time.shows / scene.camera.fps),
            )
            for time in times
        ),
    )


def _parts(
    scene: Scene, paths: Paths, up: Upright, outlines: list[Silhouette], end_ns: int
) -> tuple[PartTruth, ...]:
    each = np.arange(paths.count)
    line_s = paths.arrival(up.along_mm(scene.view.line_px))
    speed = paths.along(each, line_s)[1]
    column = up.column(paths.across(each, line_s))
    angle = paths.angle(each, line_s)
    beam_s = paths.arrival(scene.beam.below_lip_mm) if scene.beam else np.full(len(each), np.nan)

    def one(k: int) -> PartTruth:
        crossed = 0 <= line_s[k] * 1e9 <= end_ns
        back, front, _, _ = extent(outlines[k], angle[k])
        return PartTruth(
            part=k,
            release_t_ns=round(paths.lip_s[k] * 1e9),
            line_t_ns=round(line_s[k] * 1e9) if crossed else None,
            beam_t_ns=None if np.isnan(beam_s[k]) else round(beam_s[k] * 1e9),
            speed_px_s=float(speed[k]) * up.scale if crossed else None,
            speed_mm_s=float(speed[k]) if crossed else None,
            across_px=float(column[k]) if crossed else None,
            length_px=front + back if crossed else None,
        )

    return tuple(one(k) for k in range(paths.count))


def extent(outline: Silhouette, angle_rad: float) -> tuple[float, float, float, float]:
    """Return how far a turned part reaches back, forward, left and right of its centroid."""
    cos, sin = float(np.cos(angle_rad)), float(np.sin(angle_rad))
    return (
        outline.reach(-cos, sin),
        outline.reach(cos, -sin),
        outline.reach(-sin, -cos),
        outline.reach(sin, cos),
    )


def _seen(paths: Paths, up: Upright, outlines: list[Silhouette], t_s: float) -> tuple[Seen, ...]:
    """Return the parts that show in the frame with time `t_s`."""
    each = np.arange(paths.count)
    row, t = _at_own_line(paths, up, t_s)
    speed = paths.along(each, t)[1] * up.scale
    column = up.column(paths.across(each, t))
    let_go = (t >= paths.lip_s) | (paths.lip_speed_mm_s > 0)
    stretch = 1 / np.maximum(np.abs(1 - up.line_s_per_row * speed), 1e-3)
    blur = (speed * up.exposure_s / 2 + 0.5) * stretch
    angle = paths.angle(each, t)
    x, y = up.image(row, column)
    found = []
    for k in np.flatnonzero(let_go & np.isfinite(row)):
        # A part that is nowhere near the view needs no closer look.
        margin = outlines[k].radius * stretch[k] + blur[k]
        if not max(up.lip, 0.0) - margin < row[k] < up.rows + margin:
            continue
        back, front, left, right = extent(outlines[k], float(angle[k]))
        top, bottom = row[k] - back * stretch[k], row[k] + front * stretch[k]
        first, last = max(-0.5, up.lip), up.rows - 0.5
        sides = (column[k] - left, column[k] + right)
        if bottom <= first or top >= last or sides[1] <= -0.5 or sides[0] >= up.columns - 0.5:
            continue
        whole = (
            top - blur[k] >= first - 0.5
            and bottom + blur[k] <= last + 0.5
            and sides[0] >= -0.5
            and sides[1] <= up.columns - 0.5
        )
        found.append(Seen(part=int(k), x_px=float(x[k]), y_px=float(y[k]), whole=bool(whole)))
    return tuple(found)


def _at_own_line(paths: Paths, up: Upright, t_s: float) -> tuple[Array, Array]:
    """Find where each part is when the line it is on is exposed, and when that is.

    Newton's rule on row = place(time of row); NaN where a part outruns the readout.
    """
    each = np.arange(paths.count)
    t = np.full(paths.count, t_s + up.marked_s)
    for _ in range(8):
        place, speed = paths.along(each, t)
        column = up.column(paths.across(each, t))
        late = t - t_s - up.delay(up.row(place), column)
        slope = 1 - up.line_s_per_row * up.scale * speed
        slope = slope - up.line_s_per_column * up.scale * paths.drift_mm_s
        t = t - late / np.where(np.abs(slope) < 1e-3, 1e-3, slope)
    row = up.row(paths.along(each, t)[0])
    late = t - t_s - up.delay(row, up.column(paths.across(each, t)))
    return np.where(np.abs(late) < 1e-7, row, np.nan), t
