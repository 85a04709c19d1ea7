"""The plots, for the commands that draw them."""

from pathlib import Path
from typing import TYPE_CHECKING

from viscount.errors import UsageError
from viscount.tally import Tally

if TYPE_CHECKING:
    from viscount.offline.cutting import Planned


def require_plot_place(plot: Path) -> None:
    """Refuse, before any counting, a plot that could not be drawn or written.

    Raises
    ------
    UsageError : for a place that is none; ReportError : where the report extra is missing.
    """
    from viscount.report.trains import require_plotting

    where = f"--plot {plot}"
    if plot.suffix.lower() != ".png":
        raise UsageError("a plot is a PNG picture", where=where, allowed="a name ending in .png")
    if not plot.parent.is_dir():
        raise UsageError(
            f"there is no folder {plot.parent}", where=where, allowed="a folder that exists"
        )
    if plot.is_dir():
        raise UsageError("a folder, not a file", where=where)
    require_plotting()


def drawn_plot(tally: Tally, plot: Path) -> None:
    """Draw the plot of a tally into a file."""
    from viscount.report.trains import write_trains

    write_trains(tally, plot)


def drawn_cut_plot(found: "Planned", plot: Path) -> None:
    """Draw the plot of a plan of cuts into a file."""
    from viscount.report.cut_windows import write_cuts

    write_cuts(found.plan, found.strokes, found.lateness, plot)
