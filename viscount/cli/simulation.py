"""The run of ``viscount simulate``: scene in, files out, and what there is to say of them."""

import json
from pathlib import Path

from viscount.cli.facts import Fact
from viscount.cli.own_folder import OwnFolder
from viscount.cli.progress import busy
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.screen import OutputError, on_terminal, rendered, shown
from viscount.simulate.pour import FILES, Written, simulate, write_pour
from viscount.simulate.scene import Scene, load_scene
from viscount.simulate.space import load_space
from viscount.simulate.truth import Truth

MOST_REASONS = 3


def given_scene(file: Path, seed: int | None) -> Scene:
    """Return a scene file's scene, with this seed if one is given."""
    scene = load_scene(file)
    return scene if seed is None else scene.model_copy(update={"seed": seed})


def drawn_scene(file: Path, number: int) -> Scene:
    """Return the scene of this number from a space of scenes."""
    return load_space(file).draw(number)


def scene_schema() -> str:
    """Return the JSON schema of scene files, as text."""
    return json.dumps(Scene.model_json_schema(), indent=2) + "\n"


def simulated(scene: Scene, out: Path) -> str:
    """Write a scene's files into a folder; return what to print.

    Raises
    ------
    viscount.errors.ViscountError
        Where the scene cannot be simulated, or the folder holds files of somebody else.
    """
    folder = OwnFolder(out, FILES)
    folder.require_own()
    try:
        with busy("simulating the pour"):
            pour = simulate(scene)
            written = write_pour(scene, out)
        folder.seal()
    except OSError as error:
        raise OutputError(
            f"the files cannot be written ({error.strerror})", where=str(out)
        ) from error
    facts = _facts(scene, pour.truth, written)
    return rendered(fact_table(facts)) if on_terminal() else "\n".join(plain_lines(facts)) + "\n"


def _facts(scene: Scene, truth: Truth, written: Written) -> list[Fact]:
    facts = [Fact(label="scene", text=": ".join(filter(None, [scene.name, scene.about])))]
    facts.append(Fact(label="truth", text=f"{truth.crossed} of {scene.count} parts cross the line"))
    hidden = sum(part.hidden for part in truth.parts)
    if hidden:
        facts.append(Fact(label="truth", text=f"{hidden} are never to be seen"))
    facts.append(Fact(label="separable", text=_separable(truth)))
    frames = f"{len(truth.frames)} frames, {scene.camera.fps:g} a second"
    facts.append(Fact(label="clip", text=frames))
    logs = (written.beam, written.gate)
    paths = (written.clip, written.truth, written.outlet, written.scene, *logs)
    facts += [Fact(label="file", text=shown(str(path))) for path in paths if path is not None]
    return facts


def _separable(truth: Truth) -> str:
    separable = truth.separable
    if separable.bare:
        return "yes: its parts can be told apart by the picture alone"
    told = separable.reasons[:MOST_REASONS]
    left = len(separable.reasons) - len(told)
    why = "; ".join([*told, *([f"and {left} more"] if left else [])])
    if separable.with_outlet:
        return f"with the outlet file; without it not: {why}"
    return f"no: {why}"
