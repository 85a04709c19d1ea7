"""``viscount live``: a camera in, a running count, and at the end a tally."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.ending import status_of
from viscount.cli.options import (
    BeamPort,
    BeamSpeed,
    CameraOptions,
    Expected,
    JsonAtEnd,
    OutletFile,
    PartFile,
    Quiet,
    Settings,
    Themed,
    Window,
)


def live(
    source: Annotated[
        str,
        typer.Argument(
            metavar="SOURCE",
            help="A camera's number, a stream's address (http://, rtsp://), a folder that fills, "
            "a clip or a scene file to replay; or NAME:ADDRESS for a camera by its name.",
        ),
    ],
    outlet: OutletFile = None,
    part: PartFile = None,
    beam_port: BeamPort = None,
    beam_speed: BeamSpeed = 115_200,
    record: Annotated[
        Path | None,
        typer.Option(metavar="DIR|FILE.mp4", help="Record the pictures, and the beam's edges."),
    ] = None,
    lossless: Annotated[
        bool, typer.Option("--lossless", help="Record every pixel as it is; ten times the size.")
    ] = False,
    expect: Expected = None,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="SECONDS", help="End the run after so long.")
    ] = None,
    window: Window = False,
    theme: Themed = "dark",
    as_json: JsonAtEnd = False,
    camera: CameraOptions = None,
    settings: Settings = None,
    quiet: Quiet = 1.0,
) -> None:
    """Count the parts that cross the line before a camera, as they fall.

    Ctrl-C ends the run: what has come is counted, the recording is closed, the tally printed.
    """
    from viscount.cli.live_counting import counted_live, live_plan
    from viscount.cli.readable import as_json_text, as_text
    from viscount.cli.screen import on_terminal, say

    plan = live_plan(
        source,
        outlet=outlet,
        part=part,
        settings=settings or (),
        camera=camera or (),
        expected=expect,
        quiet_s=quiet,
        for_s=for_s,
        beam_port=beam_port,
        beam_speed=beam_speed,
        record=record,
        lossless=lossless,
    )
    shown = []
    if window:
        from viscount.cli.window import window_of

        shown.append(window_of(plan, theme))
    ended, windows = counted_live(plan, shows_line=not as_json, shown=shown)
    say(as_json_text(ended.tally, laid_out=on_terminal()) if as_json else as_text(ended.tally))
    if window:
        from viscount.cli.window import wait_for

        wait_for(windows)
    raise typer.Exit(status_of(ended.tally))
