"""``viscount plan``: sums before you buy."""

from typing import Annotated

import typer

from viscount.cli.options import AsJson, OutletFile, PartFile

Number = float | None


def _number(help_text: str) -> typer.models.OptionInfo:
    found: typer.models.OptionInfo = typer.Option(metavar="NUMBER", help=help_text)
    return found


def plan(
    outlet: OutletFile = None,
    part: PartFile = None,
    count: Annotated[
        int | None,
        typer.Option(min=2, max=100_000, metavar="N", help="A column of so many touching parts."),
    ] = None,
    pitch_mm: Annotated[Number, _number("From part to part in the column.")] = None,
    acceleration_mm_s2: Annotated[Number, _number("The column's own, as it slides out.")] = None,
    interval_ms: Annotated[Number, _number("Instead of a column: from part to part.")] = None,
    rate_per_s: Annotated[Number, _number("Instead of a column: parts a second.")] = None,
    lip_speed_mm_s: Annotated[
        Number, _number("Of a steady stream at the lip, 0 from rest.")
    ] = None,
    length_mm: Annotated[Number, _number("The part's size along the fall.")] = None,
    line_mm: Annotated[Number, _number("The counting line, below the lip.")] = None,
    beam_mm: Annotated[Number, _number("The beam, below the lip.")] = None,
    blade_mm: Annotated[Number, _number("The blade, below the lip.")] = None,
    view_mm: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="FROM TO", help="What the camera sees, below the lip."),
    ] = None,
    fps: Annotated[Number, _number("Frames a second.")] = None,
    exposure_us: Annotated[Number, _number("Exposure time.")] = None,
    line_time_us: Annotated[Number, _number("From line to line, where lines run along.")] = None,
    scale_px_per_mm: Annotated[Number, _number("Pixels for each millimetre.")] = None,
    beam_width_mm: Annotated[Number, _number("Width of the beam along the fall.")] = None,
    beam_threshold_percent: Annotated[
        Number, _number("The beam switches when so much of its light is lost; 50 if not given.")
    ] = None,
    beam_response_us: Annotated[Number, _number("Time that the beam's sensor needs.")] = None,
    reach_ms: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="LEAST MOST", help="Command until the blade enters the stream."),
    ] = None,
    shut_ms: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="LEAST MOST", help="Command until the stream is closed."),
    ] = None,
    coil: Annotated[
        tuple[float, float, float] | None,
        typer.Option(
            metavar="OHM MH VOLT", help="The gate's coil: how long its current itself takes."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say what a drop, a rate and a camera come to, and what is needed.

    Closed sums only: nothing is simulated. What an outlet and a part file say is used; an option
    stands over it. All heights are measured down from the lip.
    """
    from viscount.cli.plan_text import as_json_text, as_text
    from viscount.cli.planning import Given, planned
    from viscount.cli.screen import say

    given = Given(
        count=count,
        pitch_mm=pitch_mm,
        acceleration_mm_s2=acceleration_mm_s2,
        interval_ms=interval_ms,
        rate_per_s=rate_per_s,
        lip_speed_mm_s=lip_speed_mm_s,
        length_mm=length_mm,
        line_mm=line_mm,
        beam_mm=beam_mm,
        blade_mm=blade_mm,
        view_mm=view_mm,
        fps=fps,
        exposure_us=exposure_us,
        line_time_us=line_time_us,
        scale_px_per_mm=scale_px_per_mm,
        beam_width_mm=beam_width_mm,
        beam_threshold_percent=beam_threshold_percent,
        beam_response_us=beam_response_us,
        reach_ms=reach_ms,
        shut_ms=shut_ms,
        coil=coil,
    )
    found = planned(given, outlet=outlet, part=part)
    say(as_json_text(found) if as_json else as_text(found))
