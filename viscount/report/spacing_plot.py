"""The plot of a pour's spacing: interval and gap against the number of the part.

Above are intervals and gaps with their uncertainties and the fitted profile, below how they are
spread. Told apart by shape, not by colour alone: the picture stays legible in grey.
"""

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from viscount.measure.pour_spacing import AtHeight, PourSpacing
from viscount.measure.rhythm import Rhythm
from viscount.measure.spaced import Spaced
from viscount.report.spacing_json import COVERAGE
from viscount.report.trains import DPI, FAINT, INK, PAPER, PlotError
from viscount.report.whole_file import write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INTERVAL, GAP, FIT, ODD = "#0b5fa5", "#b4540a", "#22272e", "#a3123f"
MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")
WIDTH_IN, HEIGHT_IN = 12.0, 7.6
MOST_BARS = 150
"""Bars of uncertainty are drawn for so many parts; more would be a smear."""
MOST_FAULTS = 12
MOST_NAMED = 3
"""More pours than these are told apart by their marks only."""
LOG_FROM = 10.0
"""Above this share of the longest interval to the median, the axis is logarithmic."""


def write_spacing(spaced: Spaced, path: Path, *, height: int = 0) -> None:
    """Draw the spacing of pours into a PNG file, which appears only when it is whole.

    Raises
    ------
    PlotError : the file cannot be written, or there is nothing to draw.
    """
    if not any(len(one.heights[0].neighbours) for one in spaced.pours):
        raise PlotError("no two parts follow each other: nothing to draw", where=str(path))
    page = io.BytesIO()
    spacing_figure(spaced, height).savefig(page, format="png", dpi=DPI, facecolor=PAPER)
    try:
        write_whole(path, page.getvalue())
    except OSError as error:
        raise PlotError(
            f"the plot cannot be written ({error.strerror})", where=str(path)
        ) from error


def spacing_figure(spaced: Spaced, height: int = 0) -> "Figure":
    """Return the figure, of each pour's height number `height`; the line's is 0."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN))
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(2, 2, height_ratios=(1.7, 1.0))
    course = figure.add_subplot(grid[0, :])
    left, right = figure.add_subplot(grid[1, 0]), figure.add_subplot(grid[1, 1])
    drawn = [one for one in spaced.pours if len(one.heights) > height]
    figure.text(0.07, 0.955, _title(spaced), fontsize=13, color=INK, weight="bold")
    figure.text(0.07, 0.925, _subtitle(drawn, height), fontsize=9.5, color=INK)
    for number, one in enumerate(drawn):
        _draw_course(
            course,
            one,
            one.heights[height],
            number,
            alone=len(drawn) == 1,
            many=len(drawn) > MOST_NAMED,
        )
    course.margins(y=0.12)
    _scaled(course, drawn, height)
    _dressed(course, "number of the part", "ms")
    course.legend(frameon=False, fontsize=8.5, labelcolor=INK, loc="upper right", ncols=2)
    _draw_spread(left, drawn, height, "interval_s", INTERVAL, "interval, ms")
    _draw_spread(right, drawn, height, "gap_s", GAP, "gap, ms")
    figure.subplots_adjust(left=0.07, right=0.985, top=0.9, bottom=0.075, hspace=0.3, wspace=0.14)
    return figure


def _title(spaced: Spaced) -> str:
    names = list(dict.fromkeys(Path(run.tally.source).name for run in spaced.runs if run.pours))
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    parts = sum(int(one.pour.parts.sum()) for one in spaced.pours)
    pours = len(spaced.pours)
    return f"{', '.join(names[:3])}{more}: {parts} parts in {pours} pour{'s' * (pours != 1)}"


def _subtitle(drawn: list[PourSpacing], height: int) -> str:
    if not drawn:
        return ""
    at = drawn[0].heights[height].at
    place = "at the counting line" if at.name == "line" else f"at the {at.name}"
    kinds = list(dict.fromkeys(one.beat.rhythm.value for one in drawn))
    said = {"unknown": "too few parts to tell what kind of stream"}
    return f"{place}; {', '.join(said.get(k, k) for k in kinds)}; bars are 95 % uncertainties"


def _draw_course(
    axis: "Axes", one: PourSpacing, own: AtHeight, number: int, *, alone: bool, many: bool
) -> None:
    near = own.neighbours
    if not len(near):
        return
    part = one.pour.first_part[1:].astype(np.float64)
    mark = MARKS[number % len(MARKS)]
    name = f", pour {one.pour.number} of run {one.run + 1}"
    if alone or many:
        name = ""
    shown = number == 0 or not (alone or many)
    bars = len(near) <= MOST_BARS
    for values, sigma, colour, full, what in (
        (near.interval_s, near.sigma_interval_s, INTERVAL, True, "interval to the part before"),
        (near.gap_s, near.sigma_gap_s, GAP, False, "gap: clear time before the part"),
    ):
        axis.errorbar(
            part,
            1e3 * values,
            yerr=1e3 * COVERAGE * np.where(np.isfinite(sigma), sigma, 0.0) if bars else None,
            fmt=mark,
            ms=4,
            mfc=colour if full else PAPER,
            mec=colour,
            ecolor=colour,
            elinewidth=0.7,
            ls="",
            label=what + name if shown else None,
            zorder=3,
        )
    _draw_profile(axis, one, own)
    for fault in one.faults[:MOST_FAULTS]:
        at = int(np.searchsorted(one.pour.first_part, fault.part))
        y = 1e3 * float(near.interval_s[max(at - 1, 0)])
        axis.annotate(
            f"{fault.kind.value}, {min(100 * fault.chance, 99.0):.0f} %",
            (fault.part, y),
            xytext=(0, 14),
            textcoords="offset points",
            ha="center",
            fontsize=8.5,
            color=ODD,
            weight="bold",
            arrowprops={"arrowstyle": "-", "color": ODD, "lw": 0.8},
        )


def _draw_profile(axis: "Axes", one: PourSpacing, own: AtHeight) -> None:
    fitted = one.profile
    if fitted is None or one.beat.rhythm is not Rhythm.COLUMN:
        return
    last = fitted.places
    number = np.arange(2, last + 1)
    law = np.array([1e3 * fitted.interval_s(n) for n in range(1, last)])
    where = "at the lip" if fitted.place == "lip" else "at the line"
    told = axis.get_legend_handles_labels()[1]
    label = f"law of the column, {where}"
    label = "_" if label in told else label
    axis.plot(number, law, color=FIT, lw=1.2, ls="--", label=label, zorder=2)
    there = fitted.intervals_at(own.at.height.below_line, last)
    if there is not None and own.at.name != "lip":
        place = "line" if own.at.name == "line" else "height drawn"
        label = f"the same law, carried to the {place}"
        label = "_" if label in told else label
        axis.plot(number, 1e3 * there, color=FIT, lw=1.0, ls="-", label=label, zorder=2)


def _scaled(axis: "Axes", drawn: list[PourSpacing], height: int) -> None:
    """A pause would press all else flat: then by logarithm, without what is not above zero."""
    all_ms = [1e3 * one.heights[height].neighbours.interval_s for one in drawn]
    values = np.concatenate(all_ms) if all_ms else np.zeros(0)
    known = values[np.isfinite(values) & (values > 0.0)]
    if known.size and known.max() > LOG_FROM * np.median(known):
        axis.set_yscale("log")
    else:
        axis.set_ylim(bottom=min(0.0, axis.get_ylim()[0]))


def _draw_spread(
    axis: "Axes", drawn: list[PourSpacing], height: int, name: str, colour: str, label: str
) -> None:
    values = [
        1e3 * getattr(one.heights[height].neighbours, name)[one.heights[height].usable]
        for one in drawn
    ]
    every = np.concatenate(values) if values else np.zeros(0)
    known = every[np.isfinite(every)]
    _dressed(axis, label, "pairs")
    if not known.size:
        axis.text(0.5, 0.5, "not known", transform=axis.transAxes, ha="center", color=INK)
        return
    bins = int(np.clip(np.sqrt(known.size) * 2, 8, 60))
    axis.hist(known, bins=bins, color=colour, edgecolor=PAPER, linewidth=0.6)
    low, middle, high = np.percentile(known, (5, 50, 95))
    for value, style in ((low, ":"), (middle, "-"), (high, ":")):
        axis.axvline(value, color=INK, lw=1.1, ls=style)
    text = f"least {known.min():.2f}, 5 % {low:.2f}, middle {middle:.2f}, 95 % {high:.2f}"
    axis.set_title(text, loc="left", fontsize=9, color=INK)


def _dressed(axis: "Axes", across: str, up: str) -> None:
    axis.set_xlabel(across, fontsize=9.5, color=INK)
    axis.set_ylabel(up, fontsize=9.5, color=INK)
    axis.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    axis.grid(axis="y", color="#e6e9ed", lw=0.6, zorder=0)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axis.spines[side].set_color(FAINT)
