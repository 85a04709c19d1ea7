"""Beam logs and clips for tests of both counters, written as a logger and a recorder would."""

from collections.abc import Iterable, Sequence
from pathlib import Path

import yaml
from scenes import Shot

from viscount.clips.writer import ClipWriter
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import load_scene

READY = Path(__file__).parents[1] / "fixtures" / "scenes"
OFFSET_S = 5.25


def log_text(
    darks_ms: Iterable[tuple[float, float]],
    *,
    offset_s: float = OFFSET_S,
    end_ms: float | None = 3000.0,
) -> str:
    """Return a log with these (start, length) of darks, in ms on the capture clock."""
    rows = ["time_s,blocked", f"{offset_s:.6f},0"]
    for start, length in darks_ms:
        rows.append(f"{offset_s + 1e-3 * start:.6f},1")
        rows.append(f"{offset_s + 1e-3 * (start + length):.6f},0")
    if end_ms is not None:
        rows.append(f"# end {offset_s + 1e-3 * end_ms:.6f}")
    return "\n".join(rows) + "\n"


def written_log(folder: Path, darks_ms: Iterable[tuple[float, float]], **more: float) -> Path:
    """Write such a log; return its path."""
    path = folder / "beam.csv"
    path.write_text(log_text(darks_ms, **more), encoding="utf-8")
    return path


def written_clip(folder: Path, shot: Shot) -> Path:
    """Write a shot's frames as a clip with their own times."""
    path = folder / "clip.mp4"
    height, width = shot.frames[0].pixels.shape
    with ClipWriter(path, width, height) as clip:
        for frame in shot.frames:
            clip.write(frame.pixels, frame.t_ns)
    return path


def written_outlet(folder: Path, **sections: object) -> Path:
    """Write an outlet file of these sections."""
    path = folder / "outlet.yaml"
    path.write_text(yaml.safe_dump(sections), encoding="utf-8")
    return path


def ready_pour(name: str, folder: Path, **changes: object) -> Path:
    """Render a ready scene, with changes, into a folder of its own; return that."""
    scene = load_scene(READY / f"{name}.yaml")
    made = folder / name
    write_pour(scene.model_validate(scene.model_dump() | changes), made)
    return made


def due_ms(count: int, pitch_ms: float, first_ms: float, way_ms: float) -> Sequence[float]:
    """Return when heads reach a beam that lies `way_ms` below the border of the view."""
    return [first_ms + k * pitch_ms + way_ms for k in range(count)]
