"""``viscount pack``: bags of N parts, cut by the beam's board, each judged by both counters."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import (
    BeamPort,
    BeamSpeed,
    CameraOptions,
    JsonAtEnd,
    PartFile,
    Themed,
    Window,
)


def pack(
    source: Annotated[
        str, typer.Argument(metavar="SOURCE", help="The camera, named as for `viscount live`.")
    ],
    each: Annotated[int, typer.Option(metavar="N", min=1, help="Parts in a bag.")],
    bags: Annotated[int, typer.Option(metavar="M", min=1, help="Good bags wanted.")],
    outlet: Annotated[Path, typer.Option(metavar="FILE", help="The outlet file.")],
    part: PartFile = None,
    beam_port: BeamPort = None,
    beam_speed: BeamSpeed = 115_200,
    delay_ms: Annotated[
        float,
        typer.Option(min=0.0, max=999.9, help="From the edge that triggers to the command."),
    ] = 0.0,
    early: Annotated[
        int,
        typer.Option(metavar="K", min=0, help="The edge of part N-K triggers."),
    ] = 0,
    strokes: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="The gate's measured strokes, as for `viscount cut`."),
    ] = None,
    journal: Annotated[
        Path, typer.Option(metavar="FILE", help="Where each bag's record is added.")
    ] = Path("bags.jsonl"),
    check_pour: Annotated[
        int | None,
        typer.Option(metavar="N", min=1, help="Begin with a check pour that is counted by hand."),
    ] = None,
    bag_by: Annotated[
        str,
        typer.Option(
            metavar="enter|board",
            help="Who says that a bag is in place: the Enter key, or a switch at the board.",
        ),
    ] = "enter",
    on_ms: Annotated[
        int,
        typer.Option(metavar="MS", min=1, max=65535, help="The coil is on no longer."),
    ] = 5000,
    empty_ms: Annotated[
        int, typer.Option(metavar="MS", min=50, help="Shut when nothing came for so long.")
    ] = 1500,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be done; open no port, move nothing.")
    ] = False,
    window: Window = False,
    theme: Themed = "dark",
    as_json: JsonAtEnd = False,
    camera: CameraOptions = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file; repeatable.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Pack bags: the beam's board counts and shuts the gate, the camera judges each bag.

    Each bag waits for Enter, or for a press of the board's switch. Anything but a good bag is named
    and set aside, and the gate stays shut until a person has looked. No command, window or status
    of this program means that the coil is off: take its power off before you reach in. The
    emergency stop acts in hardware.
    """
    from viscount.cli.live_counting import live_plan
    from viscount.cli.pack_plan import pack_plan
    from viscount.cli.pack_text import dry_text
    from viscount.cli.packing import packed
    from viscount.cli.screen import say

    plan = pack_plan(
        live_plan(
            source,
            outlet=outlet,
            part=part,
            settings=settings or (),
            camera=camera or (),
            beam_port=beam_port,
            beam_speed=beam_speed,
        ),
        each=each,
        bags=bags,
        delay_ms=delay_ms,
        early=early,
        strokes=strokes,
        journal=journal,
        check=check_pour,
        bag_by=bag_by,
        on_ms=on_ms,
        empty_ms=empty_ms,
        dry=dry_run,
    )
    if dry_run:
        say(dry_text(plan, as_json=as_json))
        return
    shown = []
    if window:
        from viscount.cli.window import window_of

        shown.append(window_of(plan, theme))
    raise typer.Exit(packed(plan, as_json=as_json, shown=shown))
