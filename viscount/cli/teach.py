"""``viscount teach``: clips of single parts in, a part file out."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import AsJson, Force, OutletFile, Settings


def teach(
    clips: Annotated[
        list[Path],
        typer.Argument(metavar="CLIP...", help="Clips of parts that were dropped one by one."),
    ],
    outlet: OutletFile = None,
    name: Annotated[
        str | None, typer.Option(metavar="NAME", help="What the part is called in documents.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="PART.yaml", help="The part file to write.")
    ] = None,
    part: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A part file whose other keys are kept."),
    ] = None,
    beam: Annotated[
        list[Path] | None,
        typer.Option(metavar="LOG", help="The beam's log of each clip, in order; repeatable."),
    ] = None,
    count: Annotated[
        int | None, typer.Option(metavar="N", help="How many parts were dropped in all.")
    ] = None,
    settings: Settings = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Teach what one part looks like, from 20 or more that were dropped one by one.

    The part file says from then on how large one part is, how much parts differ, and how they
    darken the beam. Exit status: 0 written, 2 these clips cannot teach it.
    """
    from viscount.cli.screen import on_terminal, say
    from viscount.cli.teaching import required_place, taught, write_part
    from viscount.cli.teaching_text import taught_json_text, taught_text

    place = required_place(out, force=force)
    found = taught(
        clips,
        outlet=outlet,
        beams=beam or (),
        base=part,
        name=name,
        count=count,
        settings=settings or (),
    )
    write_part(place, found.part, force=force)
    if as_json:
        say(taught_json_text(found, place, laid_out=on_terminal()))
    else:
        say(taught_text(found, place))
