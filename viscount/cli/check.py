"""``viscount check``: a recording, or a camera, looked at before anyone trusts a count on it."""

from typing import Annotated

import typer

from viscount.cli.options import AsJson, OutletFile


def check(
    source: Annotated[
        str,
        typer.Argument(
            metavar="SOURCE",
            help="A clip, a folder of pictures, a picture; or a camera as for `viscount live`.",
        ),
    ],
    outlet: OutletFile = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (camera.line_time_us=15); repeatable.",
            show_default=False,
        ),
    ] = None,
    camera: Annotated[
        list[str] | None,
        typer.Option(
            metavar="OPTION=VALUE",
            help="One of a camera's own options; repeatable.",
            show_default=False,
        ),
    ] = None,
    for_s: Annotated[
        float, typer.Option("--for", metavar="SECONDS", help="How long to look at a camera.")
    ] = 5.0,
    as_json: AsJson = False,
) -> None:
    """Say what in a recording would spoil a count, with figures and what to change.

    A camera is recorded for some seconds first, without loss; let parts fall meanwhile.

    Exit status: 0 nothing found, 10 what was found costs accuracy, 12 it makes counting
    impossible, 2 the recording cannot be read.
    """
    from viscount.cli.check_text import check_json_text, check_text
    from viscount.cli.checked import check_status, checked
    from viscount.cli.screen import on_terminal, say

    examined = checked(
        source,
        outlet=outlet,
        settings=settings or (),
        camera=camera or (),
        for_s=for_s,
        shows_progress=not as_json,
    )
    if as_json:
        say(check_json_text(examined, laid_out=on_terminal()))
    else:
        say(check_text(examined))
    raise typer.Exit(check_status(examined))
