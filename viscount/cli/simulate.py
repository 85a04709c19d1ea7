"""``viscount simulate``: a pour with known truth, from a scene file."""

from pathlib import Path
from typing import Annotated

import typer


def simulate(
    scene: Annotated[
        Path | None,
        typer.Argument(metavar="SCENE", help="The scene file, or a space of scenes with --draw."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="The folder for the files.")
    ] = None,
    seed: Annotated[
        int | None, typer.Option(min=0, metavar="N", help="Stands over the scene's own seed.")
    ] = None,
    draw: Annotated[
        int | None,
        typer.Option(min=0, metavar="N", help="Draw scene number N from a space of scenes."),
    ] = None,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON schema of scene files, for editors.")
    ] = False,
) -> None:
    """Simulate a pour: its clip, its outlet file, its beam log, and what truly happened."""
    from viscount.cli.screen import say
    from viscount.cli.simulation import drawn_scene, given_scene, scene_schema, simulated
    from viscount.errors import UsageError

    if schema:
        say(scene_schema())
        return
    if scene is None or out is None:
        raise UsageError(
            "a scene file and a folder for the result are needed",
            allowed="viscount simulate SCENE.yaml --out DIR",
        )
    if draw is not None and seed is not None:
        raise UsageError("--draw and --seed together", remedy="a drawn scene's number is its seed")
    chosen = given_scene(scene, seed) if draw is None else drawn_scene(scene, draw)
    say(simulated(chosen, out))
