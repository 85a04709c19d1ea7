"""A simulated pour: its frames, its truth and its beam edges, in memory or as files."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import yaml
from numpy.typing import NDArray

from viscount.simulate.barrier import BeamEdge, Watched, watched, write_beam_log
from viscount.simulate.drawing import Studio
from viscount.simulate.gate_log import write_gate_log
from viscount.simulate.geometry import upright
from viscount.simulate.outlet_file import outlet_text
from viscount.simulate.physics import Blade, paths
from viscount.simulate.recording import write_clip
from viscount.simulate.scene import Scene
from viscount.simulate.solids.body import body
from viscount.simulate.timeline import FrameTime, frame_times
from viscount.simulate.truth import Truth, truth

MARGIN_MM = 5.0
FILES = ("clip.mp4", "outlet.yaml", "scene.yaml", "beam.csv", "gate.csv", "truth.json")
"""What may be written of a pour; the truth comes last."""


class Pour:
    """One simulated scene. Everything is worked out when it is first asked for."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._paths = paths(scene, _until_mm(scene))

    @cached_property
    def times(self) -> tuple[FrameTime, ...]:
        """The frames that are delivered."""
        return frame_times(self.scene, self._duration_s())

    @cached_property
    def truth(self) -> Truth:
        """What truly happened."""
        board = self.watched.board if self.scene.beam else None
        return truth(self.scene, self._paths, self.times, self.studio, board)

    @cached_property
    def watched(self) -> Watched:
        """What the beam's board reports, and what it did not."""
        return watched(self.scene, self._paths, self.end_s)

    @property
    def edges(self) -> tuple[BeamEdge, ...]:
        """What the beam reports; empty where the scene has none."""
        return self.watched.edges

    @cached_property
    def studio(self) -> Studio:
        """What draws the frames."""
        return Studio(self.scene, self._paths)

    def frames(self) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """Yield (t_ns, pixels), in order; times as in the file, pixels uint8, (H, W).

        The pixels of a frame depend on the scene and the frame's number alone.
        """
        for time in self.times:
            yield time.file_t_ns, self.studio.frame(time)

    def noiseless(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield (t_ns, picture) without noise or rounding, in the view's own direction."""
        up = upright(self.scene)
        for time in self.times:
            yield time.file_t_ns, up.turned(self.studio.noiseless(time))

    @property
    def blade(self) -> Blade | None:
        """The gate's blade and its strokes; None where the scene has no gate."""
        return self._paths.gate

    @property
    def end_s(self) -> float:
        """True time of the last frame."""
        return self.times[-1].t_ns * 1e-9 if self.times else 0.0

    def _duration_s(self) -> float:
        """Return how long the clip lasts."""
        if self.scene.duration_s is not None:
            return self.scene.duration_s
        left = self._paths.arrival(_until_mm(self.scene) - MARGIN_MM)
        start = max(self.scene.lead_in_s + max(self.scene.pours_ms) * 1e-3, 0.0)
        last = float(np.max(left, where=np.isfinite(left), initial=start))
        return max(last + self.scene.tail_s, 1 / self.scene.camera.fps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The files of one pour; `beam` and `gate` are None where the scene has none."""

    clip: Path
    truth: Path
    outlet: Path
    scene: Path
    beam: Path | None
    gate: Path | None = None


def simulate(scene: Scene) -> Pour:
    """Return the pour that `scene` describes.

    Raises
    ------
    viscount.errors.UsageError
        Where a part of it would stop before it has left the view.
    """
    return Pour(scene)


def write_pour(scene: Scene, directory: Path) -> Written:
    """Write a pour's clip, outlet file, scene, beam and gate logs and truth into `directory`.

    They take their places together when all are whole, the truth last: where ``truth.json``
    stands, the others belong to it.
    """
    pour = simulate(scene)
    directory.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".pour-", dir=directory) as scratch:
        room = Path(scratch)
        pictures = ((time, pour.studio.frame(time)) for time in pour.times)
        write_clip(room / "clip.mp4", scene.view, scene.recording, pictures, seed=scene.seed)
        pour.truth.write(room / "truth.json")
        (room / "outlet.yaml").write_text(outlet_text(scene), encoding="utf-8")
        (room / "scene.yaml").write_text(scene_text(scene), encoding="utf-8")
        if scene.beam:
            write_beam_log(room / "beam.csv", scene.beam, pour.watched, pour.end_s)
        if pour.blade:
            write_gate_log(room / "gate.csv", pour.blade)
        (directory / "truth.json").unlink(missing_ok=True)
        for name in FILES:
            if (room / name).exists():
                (room / name).replace(directory / name)
            else:
                (directory / name).unlink(missing_ok=True)
    return Written(
        clip=directory / "clip.mp4",
        truth=directory / "truth.json",
        outlet=directory / "outlet.yaml",
        scene=directory / "scene.yaml",
        beam=directory / "beam.csv" if scene.beam else None,
        gate=directory / "gate.csv" if scene.gate else None,
    )


def scene_text(scene: Scene) -> str:
    """Return the text of a scene file that loads as an equal scene."""
    data = scene.model_dump(mode="json", exclude_none=True)
    return yaml.safe_dump(data, sort_keys=False, allow_unicode=True)


def _until_mm(scene: Scene) -> float:
    """Return how far down every path is followed: past view, line, beam and blade."""
    up = upright(scene)
    view = scene.view
    ends = [up.along_mm(0.0), up.along_mm(up.rows - 1.0), up.along_mm(view.line_px)]
    if scene.beam:
        ends.append(scene.beam.below_lip_mm + scene.beam.width_mm)
    if scene.bounce:
        ends.append(scene.bounce.below_lip_mm)
    ends += [stuck.below_lip_mm for stuck in scene.stuck]
    radius = max(body(part).radius for part in scene.parts)
    return max(0.0, *ends) + 2 * radius + MARGIN_MM
