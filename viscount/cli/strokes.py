"""``viscount strokes``: how long a gate takes, from a clip of its blade."""

from pathlib import Path
from typing import Annotated

import typer


def strokes(
    clip: Annotated[Path, typer.Argument(metavar="CLIP", help="A clip with the blade in view.")],
    blade_px: Annotated[
        tuple[int, int, int, int],
        typer.Option(
            metavar="X0 Y0 X1 Y1",
            help="The box in the picture where the stream passes the blade.",
        ),
    ],
    out: Annotated[Path, typer.Option(metavar="FILE.csv", help="The file of strokes to write.")],
    gate_log: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The commands to the gate, CSV; see --lamp-px."),
    ] = None,
    lamp_px: Annotated[
        tuple[int, int, int, int] | None,
        typer.Option(
            metavar="X0 Y0 X1 Y1",
            help="A box about a lamp that is lit while the coil is driven: it settles when a "
            "command reached the coil, ties the board's clock to the camera's, or is the log.",
        ),
    ] = None,
    tally: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.json",
            help="What `viscount count --beam --json` said of this clip, for a log on the board's "
            "clock where no lamp is in view.",
        ),
    ] = None,
    outlet: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The outlet file: exposure, line time, capture rate."),
    ] = None,
    stream_px: Annotated[
        tuple[float, float] | None,
        typer.Option(
            metavar="FROM TO",
            help="The stream's sides in a wider box, the one that the blade meets first.",
        ),
    ] = None,
    within_ms: Annotated[
        float, typer.Option(metavar="NUMBER", help="Leave out what is less sure (one sigma).")
    ] = 0.5,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Stand over a key of the outlet file (camera.exposure_us=100); repeatable.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Measure reach and shut of a gate with the camera, for `count --strokes` and `cut`.

    Let the gate move without parts, and rest between its commands. Exit status: 0 all strokes
    measured, 10 some left out, 12 none can be used, 2 the call or the input cannot be used.
    """
    from viscount.cli.screen import say
    from viscount.cli.stroke_text import stroke_text, write_strokes
    from viscount.errors import ExitStatus
    from viscount.offline.filming import filmed_strokes
    from viscount.report.clock_reading import read_board_clock

    found = filmed_strokes(
        clip,
        gate_log=gate_log,
        box=blade_px,
        lamp=lamp_px,
        clock=None if tally is None else read_board_clock(tally),
        outlet=outlet,
        settings=settings or (),
        within_ms=within_ms,
        stream_px=stream_px,
    )
    write_strokes(found, out)
    say(stroke_text(found, out))
    whole = len(found.used) == len(found.strokes)
    raise typer.Exit(ExitStatus.CLEAN if whole else ExitStatus.DOUBTFUL)
