"""``viscount cut``: when the gate must be told to shut, and how likely an exact cut is."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import AsJson, PartFile


def cut(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE_OR_TALLY...",
            help="Recordings of pours that ran freely, or what `viscount count --json` printed.",
        ),
    ],
    outlet: Annotated[
        Path, typer.Option(metavar="FILE", help="The outlet file: beam and gate with heights.")
    ],
    part: PartFile = None,
    strokes: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The gate's measured strokes, CSV.")
    ] = None,
    each: Annotated[
        int | None,
        typer.Option(metavar="N", help="The wanted number of parts; else every number is told."),
    ] = None,
    rate: Annotated[
        float, typer.Option(metavar="RATE", help="Wanted share of exact cuts, 0.5 to 0.9999.")
    ] = 0.99,
    late_ms: Annotated[
        tuple[float, float] | None,
        typer.Option(
            metavar="LEAST MOST",
            help="How late a command comes; where a host decides, its serial line both ways.",
        ),
    ] = None,
    tick_us: Annotated[
        float, typer.Option(metavar="NUMBER", help="Step of the board's clock.")
    ] = 0.0,
    jitter_ms: Annotated[
        float, typer.Option(metavar="NUMBER", help="What commands else vary by (one sigma).")
    ] = 0.0,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draw windows and chances against the number."),
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (gate.at_px=250); repeatable.",
            show_default=False,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say for each number of parts when the gate must be told, and how likely an exact cut is.

    A plan, not a safety function. The command is the beam's board's to give, never the camera's.
    Exit status: 0 planned, 10 the plan rests on doubtful counts, 12 on none that can be used, 2
    the call or the input cannot be used.
    """
    from viscount.cli.cut_json import cut_json_text
    from viscount.cli.cut_text import cut_text
    from viscount.cli.cutting import lateness_of, planned_cut
    from viscount.cli.plotting import drawn_cut_plot, require_plot_place
    from viscount.cli.screen import on_terminal, say
    from viscount.errors import ExitStatus
    from viscount.values import Status

    if plot is not None:
        require_plot_place(plot)
    found = planned_cut(
        sources,
        outlet=outlet,
        part=part,
        strokes=strokes,
        settings=settings or (),
        lateness=lateness_of(late_ms, tick_us, jitter_ms),
        each=each,
        rate=rate,
        shows_progress=not as_json,
    )
    say(cut_json_text(found, laid_out=on_terminal()) if as_json else cut_text(found))
    if plot is not None:
        drawn_cut_plot(found, plot)
    doubtful = found.status is Status.DOUBTFUL
    raise typer.Exit(ExitStatus.DOUBTFUL if doubtful else ExitStatus.CLEAN)
