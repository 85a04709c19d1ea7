"""``viscount compare``: a stored tally beside a beam log."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.ending import status_of
from viscount.cli.options import AsJson, BothPlot


def compare(
    tally: Annotated[
        Path, typer.Argument(metavar="TALLY.json", help="What `viscount count --json` printed.")
    ],
    beam: Annotated[
        Path, typer.Argument(metavar="BEAM.csv", help="The beam's log of the same pour.")
    ],
    outlet: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The outlet file; else that of the count."),
    ] = None,
    part: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The part file; else that of the count.")
    ] = None,
    as_json: AsJson = False,
    plot: BothPlot = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (beam.at_px=250); repeatable.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Pair a stored count with a beam log, as `viscount count --beam` does with the recording."""
    from viscount.cli.plotting import drawn_plot, require_plot_place
    from viscount.cli.readable import as_json_text, as_text
    from viscount.cli.screen import on_terminal, say
    from viscount.offline.comparing import compare as compared
    from viscount.report.tally_reading import read_tally

    if plot is not None:
        require_plot_place(plot)
    both = compared(read_tally(tally), beam, outlet=outlet, part=part, settings=settings or ())
    say(as_json_text(both, laid_out=on_terminal()) if as_json else as_text(both))
    if plot is not None:
        drawn_plot(both, plot)
    raise typer.Exit(status_of(both))
