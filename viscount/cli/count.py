"""``viscount count``: a recording in, a tally out."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.ending import status_of
from viscount.cli.options import AsJson, BothPlot, Expected, OutletFile, PartFile, Quiet, Settings
from viscount.errors import UsageError


def count(
    source: Annotated[
        Path, typer.Argument(metavar="SOURCE", help="A clip, a folder of pictures, or a picture.")
    ],
    outlet: OutletFile = None,
    part: PartFile = None,
    beam: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The beam's log of the same pour, to pair with."),
    ] = None,
    beam_total: Annotated[
        int | None,
        typer.Option(metavar="N", help="The total of a machine that shows no more than that."),
    ] = None,
    expect: Expected = None,
    hand_count: Annotated[
        int | None,
        typer.Option(metavar="N", help="How many there were, counted by hand: a check pour."),
    ] = None,
    gate_log: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The commands to the gate, CSV: what is in each bag."),
    ] = None,
    strokes: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The gate's measured strokes, CSV; with --gate-log."),
    ] = None,
    held: Annotated[
        int | None,
        typer.Option(metavar="N", help="Parts on the shut blade when the recording began."),
    ] = None,
    as_json: AsJson = False,
    strip: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draw the line strip, to recount by eye."),
    ] = None,
    plot: BothPlot = None,
    settings: Settings = None,
    quiet: Quiet = 1.0,
) -> None:
    """Count the parts that cross the line in a recording.

    Without an outlet file parts fall down, the line is the middle of the picture, and speeds
    are learned from the recording.
    """
    from viscount.cli.counting import counted, require_strip_place
    from viscount.cli.plotting import drawn_plot, require_plot_place
    from viscount.cli.readable import as_json_text, as_text
    from viscount.cli.screen import on_terminal, say

    if strip is not None:
        require_strip_place(strip, source)
    if plot is not None and beam is None:
        raise UsageError(
            "a plot of both counters without a beam log",
            where=f"--plot {plot}",
            remedy="add --beam FILE; `--strip` draws what the camera saw",
        )
    if plot is not None:
        require_plot_place(plot)
    tally, line_strip = counted(
        source,
        outlet=outlet,
        part=part,
        expected=expect,
        settings=settings or (),
        quiet_s=quiet,
        shows_progress=not as_json,
        with_strip=strip is not None,
        beam=beam,
        beam_total=beam_total,
        hand_count=hand_count,
        gate_log=gate_log,
        strokes=strokes,
        held=held,
    )
    say(as_json_text(tally, laid_out=on_terminal()) if as_json else as_text(tally))
    if strip is not None and line_strip is not None:
        line_strip.write(tally, strip)
    if plot is not None:
        drawn_plot(tally, plot)
    raise typer.Exit(status_of(tally))
