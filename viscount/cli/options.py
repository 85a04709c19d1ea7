"""Options that several commands have, each declared once."""

from pathlib import Path
from typing import Annotated

import typer

OutletFile = Annotated[
    Path | None, typer.Option(metavar="FILE", help="The outlet file: machine, view, camera.")
]
PartFile = Annotated[Path | None, typer.Option(metavar="FILE", help="The part file: what falls.")]
Settings = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Stand over a key of the outlet file (view.line_px=180); repeatable.",
        show_default=False,
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object, for programs.")]
JsonAtEnd = Annotated[
    bool, typer.Option("--json", help="Print one JSON object at the end, for programs.")
]
CameraOptions = Annotated[
    list[str] | None,
    typer.Option(
        metavar="OPTION=VALUE",
        help="One of the camera's own options; repeatable.",
        show_default=False,
    ),
]
BeamPort = Annotated[
    str | None,
    typer.Option(
        metavar="PORT", help="Serial port of the beam's board, or usb:VENDOR:PRODUCT[:SERIAL]."
    ),
]
BeamSpeed = Annotated[int, typer.Option(metavar="BAUD", min=1200, help="Speed of a two-wire line.")]
Expected = Annotated[
    int | None, typer.Option(metavar="N", help="How many parts there ought to be.")
]
Quiet = Annotated[
    float,
    typer.Option(metavar="SECONDS", help="A pour ends after this long without a part."),
]
BothPlot = Annotated[
    Path | None,
    typer.Option(metavar="FILE.png", help="Draw both counters on one time axis."),
]
Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there already.")]
Window = Annotated[
    bool, typer.Option("--window", help="Show the run in a window; closing it ends nothing.")
]
Themed = Annotated[str, typer.Option("--theme", metavar="dark|light", help="The window's colours.")]
