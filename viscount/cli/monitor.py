"""``viscount monitor``: a recording, counted and then played in a window."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import Expected, OutletFile, PartFile, Quiet, Settings, Themed


def monitor(
    source: Annotated[
        Path, typer.Argument(metavar="SOURCE", help="A clip, a folder of pictures, or a picture.")
    ],
    outlet: OutletFile = None,
    part: PartFile = None,
    beam: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The beam's log of the same pour, to pair with."),
    ] = None,
    strokes: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The gate's measured strokes, CSV: what gap it needs."),
    ] = None,
    expect: Expected = None,
    speed: Annotated[
        float,
        typer.Option(metavar="X", help="Play it so many times as fast; 0.1 is ten times slower."),
    ] = 1.0,
    theme: Themed = "dark",
    settings: Settings = None,
    quiet: Quiet = 1.0,
) -> None:
    """Count a recording, then play it in a window, frame by frame where you like.

    The window shows what passed the line, both counters on one time axis, the gaps between parts,
    and a list of what to look at. F1 shows its keys. For a camera that runs now, see
    `viscount live --window`.
    """
    from viscount.cli.ending import status_of
    from viscount.cli.playing import played_recording
    from viscount.cli.readable import as_text
    from viscount.cli.screen import say
    from viscount.monitor.opening import play

    model = played_recording(
        source,
        outlet=outlet,
        part=part,
        beam=beam,
        strokes=strokes,
        expected=expect,
        speed=speed,
        theme=theme,
        settings=settings or (),
        quiet_s=quiet,
    )
    assert model.tally is not None
    say(as_text(model.tally))
    play(model, theme)
    raise typer.Exit(status_of(model.tally))
