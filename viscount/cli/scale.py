"""``viscount scale``: px per mm and line time, measured, with their uncertainty."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import AsJson, OutletFile, PartFile

Number = float | None


def scale(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="CLIP_OR_PICTURE...",
            help="Clips of falling parts; pictures of a ruler or a checkerboard where they fall.",
        ),
    ],
    outlet: OutletFile = None,
    part: PartFile = None,
    by: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WAY",
            help="Only gravity, part, ruler, checkerboard, bands, sensor, fall; repeatable.",
            show_default=False,
        ),
    ] = None,
    ruler_mm: Annotated[
        Number, typer.Option(metavar="MM", help="From tick to tick of the ruler in the picture.")
    ] = None,
    checkerboard: Annotated[
        str | None,
        typer.Option(metavar="COLSxROWS", help="Its inner corners, where four squares meet."),
    ] = None,
    square_mm: Annotated[
        Number, typer.Option(metavar="MM", help="Side of the checkerboard's squares.")
    ] = None,
    tilt_deg: Annotated[
        Number,
        typer.Option(
            metavar="DEG", help="How far the camera may nod along the fall; 3 if not given."
        ),
    ] = None,
    gravity_mm_s2: Annotated[
        Number, typer.Option(metavar="NUMBER", help="Gravity where the outlet stands, if known.")
    ] = None,
    light_hz: Annotated[
        list[float] | None,
        typer.Option(
            metavar="HZ",
            help="How often the light flickers; 100 or 120 if not given; repeatable.",
            show_default=False,
        ),
    ] = None,
    sensor: Annotated[
        str | None, typer.Option(metavar="NAME", help="The camera's sensor, such as IMX219.")
    ] = None,
    mode: Annotated[
        str | None,
        typer.Option(metavar="WIDTHxHEIGHT", help="The sensor's mode, if not the picture's size."),
    ] = None,
    frames: Annotated[
        str | None, typer.Option(metavar="FIRST:LAST", help="Look at these frames only.")
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (motion.kind=free_fall); repeatable.",
            show_default=False,
        ),
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="Set what was found in the outlet file.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write what is doubtful, too.")] = False,
    as_json: AsJson = False,
) -> None:
    """Measure px per mm, and the line time of a rolling shutter, with their uncertainty.

    Exit status: 0 found, 10 found with a doubt, or two ways disagree, 12 nothing found, 2 the
    call or the input cannot be used.
    """
    from viscount.cli.scaling import asked_for, measured, scale_status, written
    from viscount.cli.scaling_text import scaled_json_text, scaled_text
    from viscount.cli.screen import on_terminal, say

    asked = asked_for(
        by=by or (),
        ruler_mm=ruler_mm,
        checkerboard=checkerboard,
        square_mm=square_mm,
        tilt_deg=tilt_deg,
        gravity_mm_s2=gravity_mm_s2,
        light_hz=light_hz or (),
        sensor=sensor,
        mode=mode,
        frames=frames,
        write=write,
        outlet=outlet,
    )
    found = measured(sources, outlet=outlet, part=part, asked=asked, settings=settings or ())
    changes = written(found, outlet, force=force) if write and outlet is not None else ()
    if as_json:
        say(scaled_json_text(found, changes, laid_out=on_terminal()))
    else:
        say(scaled_text(found, changes, wanted=write))
    raise typer.Exit(scale_status(found))
