"""``viscount spacing``: how far apart parts follow each other."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import AsJson, PartFile, Settings


def spacing(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE_OR_TALLY...",
            help="Clips, which are counted; or what `viscount count --json` printed (.json).",
        ),
    ],
    outlet: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The outlet file; of a tally, else that of its count."),
    ] = None,
    part: PartFile = None,
    at: Annotated[
        list[float] | None,
        typer.Option(
            metavar="MM_BELOW_LIP",
            help="Carry the parts to this height too; repeatable.",
            show_default=False,
        ),
    ] = None,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draw interval and gap along the pour."),
    ] = None,
    as_json: AsJson = False,
    settings: Settings = None,
    quiet: Annotated[
        float,
        typer.Option(metavar="SECONDS", help="A pour of a clip ends so long without a part."),
    ] = 1.0,
) -> None:
    """Measure interval, spacing and gap from part to part, at the line and at other heights.

    Lip, beam and blade are among the heights where the outlet file says where they are.
    """
    from viscount.cli.plotting import require_plot_place
    from viscount.cli.screen import on_terminal, say
    from viscount.cli.spacing_text import spacing_json_text, spacing_text
    from viscount.cli.spacings import measured, status_of_spacing

    if plot is not None:
        require_plot_place(plot)
    found = measured(
        sources,
        outlet=outlet,
        part=part,
        settings=settings or (),
        quiet_s=quiet,
        at_mm=at or (),
        shows_progress=not as_json,
    )
    say(spacing_json_text(found, laid_out=on_terminal()) if as_json else spacing_text(found))
    if plot is not None:
        from viscount.report.spacing_plot import write_spacing

        write_spacing(found, plot)
    raise typer.Exit(status_of_spacing(found))
