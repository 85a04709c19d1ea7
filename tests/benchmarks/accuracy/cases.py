"""The pours that are counted, and what is truly known of them."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from viscount.outlet import Outlet, load_outlet
from viscount.simulate.pour import write_pour
from viscount.simulate.scene import Scene, load_scene
from viscount.simulate.space import load_space

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
SCENES = FIXTURES / "scenes"
SPACE = FIXTURES / "scene_space.yaml"

Mode = Literal["full", "bare"]
MODES: tuple[Mode, ...] = ("full", "bare")
"""With the outlet file that the simulator writes; with the line and the direction alone."""

QUICK = (
    "plain",
    "column-m4-60",
    "stream-ratio-2",
    "poisson-washers",
    "bound-screws",
    "three-lanes",
    "readout-with-fall",
    "lost-frames",
    "rounded-times",
    "falls-left",
)
"""Ready scenes of the quick run: each tells on another part of the way to the count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A scene under a name that is its own among all cases."""

    name: str
    scene: Scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One true crossing of the line with the fall.

    `bound_ns` is the least sigma that any estimator of its time can have, or None.
    """

    t_ns: int
    bound_ns: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The truth about one pour, on the clock of its file, 0 at the first frame of the clip.

    Attributes
    ----------
    count : how many parts are below the line in the end.
    crossings : every crossing with the fall, in order of time.
    separable : by mode, whether the truth says that the parts can be told apart.
    hidden : parts that crossed and that no frame showed at all.
    """

    count: int
    crossings: tuple[Crossing, ...]
    separable: dict[Mode, bool]
    hidden: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """One pour on disk: its clip and the outlet file that a full run is given."""

    clip: Path
    outlet: Path
    known: Known


def ready_cases(paths: Sequence[Path]) -> Iterator[Case]:
    """Yield the scenes of these files and folders, in order of their names."""
    for path in paths:
        files = sorted(path.glob("*.yaml")) if path.is_dir() else [path]
        for file in files:
            yield Case(name=file.stem, scene=load_scene(file))


def quick_cases() -> Iterator[Case]:
    """Yield the ready scenes of the quick run."""
    return ready_cases([SCENES / f"{name}.yaml" for name in QUICK])


def random_cases(number: int, seed: int) -> Iterator[Case]:
    """Yield pours drawn from the space of scenes; case k has the seed `seed` + k."""
    space = load_space(SPACE)
    for k in range(number):
        yield Case(name=f"random-{seed + k}", scene=space.draw(seed + k))


def write_case(case: Case, folder: Path) -> Files:
    """Simulate a case into `folder`."""
    written = write_pour(case.scene, folder)
    truth = json.loads(written.truth.read_text(encoding="utf-8"))
    return Files(clip=written.clip, outlet=written.outlet, known=_known(truth))


def outlet_of(files: Files, scene: Scene, mode: Mode) -> Outlet:
    """Return the outlet that a run in this mode is given."""
    if mode == "full":
        return load_outlet(files.outlet)
    view = {"line_px": scene.view.line_px, "falls": scene.view.falls.value}
    return Outlet.model_validate({"view": view})


def second_s(scene: Scene, outlet: Outlet) -> float:
    """Return how long a true second lasts on the clock under which a run sees this clip."""
    return scene.recording.slowed if outlet.camera.capture_fps is None else 1.0


def _known(truth: Mapping[str, Any]) -> Known:
    """Read the truth that the simulator wrote (schema ``viscount.truth/2``)."""
    first_ns = truth["frames"][0]["t_ns"] if truth["frames"] else 0
    crossings = []
    against = 0
    for part in truth["parts"]:
        if part["line_t_ns"] is None:
            continue
        bound_ns = part["bound_sigma_ns"]
        crossings.append(Crossing(t_ns=part["line_t_ns"] - first_ns, bound_ns=bound_ns))
        for again in part["recrossings"]:
            if again["direction"] == "with":
                crossings.append(Crossing(t_ns=again["t_ns"] - first_ns, bound_ns=None))
            else:
                against += 1
    said = truth["separable"]
    return Known(
        count=len(crossings) - against,
        crossings=tuple(sorted(crossings, key=lambda c: c.t_ns)),
        separable={"full": said["with_outlet"], "bare": said["bare"]},
        hidden=sum(part["hidden"] for part in truth["parts"]),
    )
