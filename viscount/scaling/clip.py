"""A clip looked at once: its falling parts, its light, and the empty scene."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice, takewhile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.source import open_source
from viscount.devices.cameras.stills import StillsCamera
from viscount.errors import DetectorFailedError, OutletError, UsageError
from viscount.hooks.registry import Registry
from viscount.measure.scale.part_size import Sized
from viscount.measure.scale.paths import Fallen
from viscount.motion.geometry import Geometry
from viscount.motion.looks import speeds_of
from viscount.motion.prior import geometry_of, motion_prior
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Track
from viscount.outlet import MotionKind, Outlet, in_file
from viscount.pipeline import PRIMING_FRAMES, Pipeline
from viscount.scaling.lines import Lines
from viscount.scaling.measuring import Measured, Measuring
from viscount.tally import FileMark
from viscount.values import Direction, Frame, Level, Notice, Passage

_LEVEL_FRAMES = 25
_LEAST_STRAYS = 5
_NEAR_SHARE, _NEAR_PX = 0.5, 4.0
"""A measured region is a sighting's own within so much of its length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """What one clip, or one picture, shows.

    Attributes
    ----------
    source : its name.
    frames : how many were looked at.
    level : uint8 (H, W), the median of the opening.
    geometry : view, line and readout.
    fallen : single parts, for gravity.
    sized : the same, for their size.
    length_px : usual extent along the fall; None where none was measured.
    shake_px : by how much whole pictures were displaced along the fall; 0 where they were not.
    lines : the light of each line; None for a picture.
    assumed_rate : nobody and nothing tells the rate of capture.
    capture_tag : what a tag in the file says of it, in frames per second; None without one.
    notices : of the clip and of following its parts.
    """

    source: str
    frames: int
    level: NDArray[np.uint8]
    geometry: Geometry
    fallen: tuple[Fallen, ...]
    sized: tuple[Sized, ...]
    length_px: float | None
    shake_px: float
    lines: Lines | None
    assumed_rate: bool
    capture_tag: float | None
    notices: tuple[Notice, ...]

    @property
    def view_px(self) -> float:
        """Length of the view along the fall."""
        return self.geometry.bottom - self.geometry.top

    @property
    def picture_px(self) -> float:
        """Length of the whole picture along the fall."""
        height, width = self.geometry.picture
        return float(height if self.geometry.falls.vertical else width)


def look(
    source: str | Path,
    outlet: Outlet,
    mark: FileMark | None,
    registry: Registry,
    frames: tuple[int, int] | None,
) -> Looked:
    """Look at a clip or a picture.

    The outlet's scale, speed and part are laid aside: what follows the parts must not know what
    it is to find.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit.
    """
    blank = _without_scale(outlet)
    with open_source(source, capture_fps=outlet.camera.capture_fps, ahead=True) as camera:
        clocked = Clocked(camera)
        opening, rest = _opened(clocked, frames, str(source))
        try:
            geometry = geometry_of(blank, *opening[0].pixels.shape)
        except OutletError as error:
            raise in_file(error, mark) from error
        sigma_s = 0.0 if clocked.clock is None else clocked.clock.sigma_frame_s
        geometry = replace(geometry, sigma_frame_s=sigma_s)
        level = _median(opening)
        one = len(opening) == 1
        run = None if one else _Run(blank, mark, registry, geometry, opening)
        lines = None if one else Lines(level.astype(np.float32))
        read = 0
        for frame in rest:
            read += 1
            if lines is not None and run is not None:
                lines.add(frame)
                run.feed(frame)
        return _looked(str(source), camera, read, level, geometry, run, lines)


def _looked(
    source: str,
    camera: PlaybackCamera | StillsCamera,
    read: int,
    level: NDArray[np.uint8],
    geometry: Geometry,
    run: "_Run | None",
    lines: Lines | None,
) -> Looked:
    header = camera.report().header
    stated = header.rate_hz if isinstance(camera, StillsCamera) else None
    fallen, sized, notices = ((), (), ()) if run is None else run.finish()
    lengths = [one.along for part in sized for one in part.extents]
    return Looked(
        source=source,
        frames=read,
        level=level,
        geometry=geometry,
        fallen=fallen,
        sized=sized,
        length_px=float(np.median(lengths)) if lengths else None,
        shake_px=0.0 if run is None else min(run.shake_px, _bent_px(fallen)),
        lines=lines,
        assumed_rate=not header.timed or (isinstance(camera, StillsCamera) and stated is None),
        capture_tag=header.capture_hz,
        notices=notices,
    )


def _bent_px(fallen: Sequence[Fallen]) -> float:
    """Return by how much paths stray from even falls: no shake is more than that."""
    strays = []
    for part in fallen:
        if len(part) >= _LEAST_STRAYS:
            t = part.t_s - part.t_s.mean()
            left = part.y_px - np.polyval(np.polyfit(t, part.y_px, 2), t)
            strays.append(float(np.sqrt(left @ left / (left.size - 3))))
    return float(np.median(strays)) if strays else 0.0


def _without_scale(outlet: Outlet) -> Outlet:
    view = outlet.view.model_copy(update={"scale_px_per_mm": None})
    motion = outlet.motion.model_copy(
        update={
            "kind": outlet.motion.kind or MotionKind.FREE_FALL,
            "acceleration_mm_s2": None,
            "speed_mm_s": None,
        }
    )
    return outlet.model_copy(update={"view": view, "motion": motion, "part": None})


def _opened(
    clocked: Clocked, chosen: tuple[int, int] | None, source: str
) -> tuple[list[Frame], Iterator[Frame]]:
    """Return the first of the chosen frames, and all of them from the first on."""
    if chosen is None:
        opening, rest = clocked.opened(PRIMING_FRAMES)
        return list(opening), rest
    first, last = chosen
    _, every = clocked.opened(1)
    within = takewhile(lambda f: f.index <= last, (f for f in every if f.index >= first))
    opening = list(islice(within, PRIMING_FRAMES))
    if not opening:
        raise UsageError(
            f"no frame from {first} to {last} in {source}",
            where="--frames",
            allowed="frames that the clip has, counted from 0",
        )
    return opening, chain(opening, within)


def _median(opening: Sequence[Frame]) -> NDArray[np.uint8]:
    chosen = np.linspace(0, len(opening) - 1, min(len(opening), _LEVEL_FRAMES)).round().astype(int)
    pixels = np.stack([opening[i].pixels for i in chosen])
    return np.asarray(np.median(pixels, axis=0).round().astype(np.uint8))


class _Run:
    """Follows the parts of one clip and remembers what it saw of the single ones."""

    def __init__(
        self,
        outlet: Outlet,
        mark: FileMark | None,
        registry: Registry,
        geometry: Geometry,
        opening: Sequence[Frame],
    ) -> None:
        where = mark.name if mark is not None else ""
        self._geometry = geometry
        self._measuring = Measuring(registry.detector_for(outlet, where=where), geometry.falls)
        prior = motion_prior(outlet, geometry)
        self._tracks: list[tuple[Track, Sequence[Passage]]] = []
        self._pipeline = Pipeline(self._measuring, geometry, prior, shown=self._take)
        self._pipeline.prime(opening)
        self._failed: Notice | None = None

    def feed(self, frame: Frame) -> None:
        """Take in one frame."""
        if self._failed is not None:
            return
        try:
            self._pipeline.feed(frame)
        except DetectorFailedError as error:
            text = str(error)
            self._failed = Notice(level=Level.INVALID, code=Code.DETECTOR_FAILED, text=text)

    def finish(self) -> tuple[tuple[Fallen, ...], tuple[Sized, ...], tuple[Notice, ...]]:
        """Return single parts as they fell, and as large as they were seen."""
        self._pipeline.finish()
        model = self._pipeline.model
        single = [track for track, passages in self._tracks if _single(passages)]
        fallen = tuple(self._fallen(track) for track in single if len(track.whole) >= 3)
        sized = () if model is None else tuple(self._sized(track, model) for track in single)
        notices = self._pipeline.notices if self._failed is None else (self._failed,)
        return fallen, tuple(one for one in sized if one.extents), tuple(notices)

    @property
    def shake_px(self) -> float:
        """By how much pictures were displaced along the fall; complete after `finish`."""
        model = self._pipeline.model
        return 0.0 if model is None else model.sigma_shake_px

    def _take(self, track: Track, passages: Sequence[Passage]) -> None:
        self._tracks.append((track, passages))

    def _fallen(self, track: Track) -> Fallen:
        """Return where the detector saw a part: what steadied its path is left out again, because
        it takes what other parts do for a shake."""
        geometry = self._geometry
        sights = track.whole
        t_s = np.array([s.t_s for s in sights])
        y, sigma = np.array([self._place(s) for s in sights]).T
        y = y - 0.5 * (geometry.top + geometry.bottom)
        late = np.ptp(y) / max(float(np.ptp(t_s)), 1e-9) * geometry.sigma_frame_s
        return Fallen(t_s=t_s, y_px=y, sigma_px=np.sqrt(np.maximum(sigma**2 + late**2, 1e-6)))

    def _place(self, sight: Sight) -> tuple[float, float]:
        """Return where a sighting is along the fall from the line, and how sure that is."""
        one = self._own(sight)
        if one is None:
            return sight.y, sight.var_y**0.5
        geometry = self._geometry
        x0, y0 = geometry.view[:2]
        along = geometry.along(np.array([one.x_px + x0]), np.array([one.y_px + y0]))
        return float(along[0]), one.sigma_px

    def _own(self, sight: Sight) -> Measured | None:
        geometry = self._geometry
        x0, y0 = geometry.view[:2]
        along = geometry.line_px + geometry.falls.sign * sight.y
        x, y = (sight.x, along) if geometry.falls.vertical else (along, sight.x)
        near = max(_NEAR_SHARE * sight.length, _NEAR_PX)
        return self._measuring.at(sight.frame, x - x0, y - y0, near)

    def _sized(self, track: Track, model: SpeedModel) -> Sized:
        whole = track.whole
        speeds = speeds_of(whole, model) if whole else np.empty(0)
        found = []
        for sight, speed in zip(whole, speeds, strict=True):
            one = self._own(sight)
            if one is not None and one.extent is not None:
                found.append((one.extent, float(speed)))
        return Sized(
            extents=tuple(one for one, _ in found), speeds_px_s=tuple(speed for _, speed in found)
        )


def _single(passages: Sequence[Passage]) -> bool:
    """Whether a track is one part that went down once, or had not yet."""
    if len(passages) > 1:
        return False
    return all(p.direction is Direction.WITH and p.parts == 1 for p in passages)
