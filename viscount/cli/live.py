"""``viscount live``: a camera in, a running count, and at the end a tally."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.ending import status_of


def live(
    source: Annotated[
        str,
        typer.Argument(
            metavar="SOURCE",
            help="A camera's number, a stream's address (http://, rtsp://), a folder that fills, "
            "a clip or a scene file to replay; or NAME:ADDRESS for a camera by its name.",
        ),
    ],
    outlet: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The outlet file: machine, view, camera.")
    ] = None,
    part: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The part file: what falls.")
    ] = None,
    beam_port: Annotated[
        str | None,
        typer.Option(
            metavar="PORT", help="Serial port of the beam's board, or usb:VENDOR:PRODUCT[:SERIAL]."
        ),
    ] = None,
    beam_speed: Annotated[
        int, typer.Option(metavar="BAUD", min=1200, help="Speed of a two-wire line.")
    ] = 115_200,
    record: Annotated[
        Path | None,
        typer.Option(metavar="DIR|FILE.mp4", help="Record the pictures, and the beam's edges."),
    ] = None,
    lossless: Annotated[
        bool, typer.Option("--lossless", help="Record every pixel as it is; ten times the size.")
    ] = False,
    expect: Annotated[
        int | None, typer.Option(metavar="N", help="How many parts there ought to be.")
    ] = None,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="SECONDS", help="End the run after so long.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object at the end, for programs.")
    ] = False,
    camera: Annotated[
        list[str] | None,
        typer.Option(
            metavar="OPTION=VALUE",
            help="One of the camera's own options; repeatable.",
            show_default=False,
        ),
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (view.line_px=180); repeatable.",
            show_default=False,
        ),
    ] = None,
    quiet: Annotated[
        float,
        typer.Option(metavar="SECONDS", help="A pour ends after this long without a part."),
    ] = 1.0,
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
    ended = counted_live(plan, shows_line=not as_json)
    say(as_json_text(ended.tally, laid_out=on_terminal()) if as_json else as_text(ended.tally))
    raise typer.Exit(status_of(ended.tally))
