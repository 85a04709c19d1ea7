"""A simulated pour: its frames, its truth and its beam edges, in memory or as files."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.clips.writer import ClipWriter, Codec
from viscount.simulate.beam import BeamEdge, edges, write_beam_log
from viscount.simulate.draw import Studio
from viscount.simulate.geometry import upright
from viscount.simulate.outlet_file import outlet_text
from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import Scene
from viscount.simulate.silhouette import silhouette
from viscount.simulate.truth import FrameTime, Truth, truth

MARGIN_MM = 5.0


class Pour:
    """One simulated pour. Everything is worked out when it is first asked for."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._paths = paths(scene, _until_mm(scene))

    @cached_property
    def times(self) -> tuple[FrameTime, ...]:
        """The frames that are delivered."""
        return _times(self.scene, _duration_s(self.scene, self._paths))

    @cached_property
    def truth(self) -> Truth:
        """What truly happened."""
        return truth(self.scene, self._paths, self.times)

    @cached_property
    def edges(self) -> tuple[BeamEdge, ...]:
        """What the beam reports; empty where the scene has none."""
        return edges(self.scene, self._paths, self.end_s)

    def frames(self) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """Yield (t_ns, pixels), in order; pixels are uint8, (H, W).

        The pixels of a frame depend on the scene and the frame's number alone.
        """
        studio = Studio(self.scene, self._paths)
        for time in self.times:
            yield time.t_ns, studio.frame(time.shows / self.scene.camera.fps, time.shows)

    def noiseless(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield (t_ns, picture) without noise or rounding, in the view's own direction."""
        studio, up = Studio(self.scene, self._paths), upright(self.scene)
        for time in self.times:
            picture = studio.noiseless(time.shows / self.scene.camera.fps)
            yield time.t_ns, up.turned(picture)

    @property
    def end_s(self) -> float:
        """Time of the last frame."""
        return self.times[-1].t_ns * 1e-9 if self.times else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The files of one pour; `beam` is None where the scene has no beam."""

    clip: Path
    truth: Path
    outlet: Path
    beam: Path | None


def simulate(scene: Scene) -> Pour:
    """Return the pour that `scene` describes.

    Raises
    ------
    viscount.errors.UsageError
        Where a part of it would stop before it has left the view.
    """
    return Pour(scene)


def write_pour(scene: Scene, directory: Path, *, codec: Codec = "h264") -> Written:
    """Write a pour's clip, truth, outlet file and beam log into `directory`.

    Each file appears under its name only when it is whole.
    """
    pour = simulate(scene)
    directory.mkdir(parents=True, exist_ok=True)
    names = Written(
        clip=directory / "clip.mp4",
        truth=directory / "truth.json",
        outlet=directory / "outlet.yaml",
        beam=directory / "beam.csv" if scene.beam else None,
    )
    with tempfile.TemporaryDirectory(prefix=".pour-", dir=directory) as scratch:
        room = Path(scratch)
        view = scene.view
        with ClipWriter(
            room / names.clip.name, view.width_px, view.height_px, codec=codec
        ) as writer:
            for t_ns, pixels in pour.frames():
                writer.write(pixels, t_ns)
        (room / names.truth.name).write_text(pour.truth.to_json(), encoding="utf-8")
        (room / names.outlet.name).write_text(outlet_text(scene), encoding="utf-8")
        if scene.beam and names.beam:
            write_beam_log(room / names.beam.name, scene.beam, pour.edges, pour.end_s)
        for path in sorted(room.iterdir()):
            path.replace(directory / path.name)
    return names


def _until_mm(scene: Scene) -> float:
    """Return how far down every path is followed: past view, line and beam."""
    up = upright(scene)
    ends = [(up.rows - up.lip) / up.scale, up.along_mm(scene.view.line_px)]
    if scene.beam:
        ends.append(scene.beam.below_lip_mm + scene.beam.width_mm)
    radius = max(silhouette(part).radius for part in scene.parts)
    return max(0.0, *ends) + 2 * radius + MARGIN_MM


def _duration_s(scene: Scene, found: Paths) -> float:
    """Return how long the clip lasts."""
    if scene.duration_s is not None:
        return scene.duration_s
    left = found.arrival(_until_mm(scene) - MARGIN_MM)
    last = float(np.max(left, where=np.isfinite(left), initial=max(scene.lead_in_s, 0.0)))
    return max(last + scene.tail_s, 1 / scene.camera.fps)


def _times(scene: Scene, duration_s: float) -> tuple[FrameTime, ...]:
    """Return the delivered frames; a repeated one shows what the frame before it showed."""
    fps, faults = scene.camera.fps, scene.faults
    shows: dict[int, int] = {}
    for number in range(int(duration_s * fps) + 1):
        shows[number] = shows[number - 1] if number in faults.repeated else number
    return tuple(
        FrameTime(number=number, shows=shown, t_ns=round(number / fps * 1e9))
        for number, shown in shows.items()
        if number not in faults.dropped
    )
