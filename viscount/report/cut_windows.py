"""The plot of a plan of cuts: for every number of parts the room and the gate, and the chance.

Differences are told by shape and line, not by colour alone: the picture stays legible in grey.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from viscount.gate.cuts import CutPlan
from viscount.gate.places import Lateness
from viscount.gate.rows import CutRow
from viscount.gate.strokes import Strokes
from viscount.report.trains import BEAM, CAMERA, FAINT, INK, PAPER, SHADE, write_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH_IN: Final = 11.0
_PANEL_IN: Final = 3.6
_HEAD_IN: Final = 0.9
_NARROW: Final = 0.1


def write_cuts(plan: CutPlan, strokes: Strokes | None, lateness: Lateness, path: Path) -> None:
    """Draw a plan into a PNG file, which appears only when it is whole.

    Raises
    ------
    PlotError : the file cannot be written.
    """
    write_figure(cuts_figure(plan, strokes, lateness), path)


def cuts_figure(plan: CutPlan, strokes: Strokes | None, lateness: Lateness) -> "Figure":
    """Return the figure: windows above, chances below where strokes are known."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    panels = 1 if strokes is None else 2
    height = _HEAD_IN + _PANEL_IN * panels
    figure = Figure(figsize=(_WIDTH_IN, height))
    FigureCanvasAgg(figure)
    figure.text(0.03, 1 - 0.3 / height, _title(plan), fontsize=13, color=INK, weight="bold")
    figure.text(
        0.03,
        1 - 0.56 / height,
        _grounds(plan),
        fontsize=9.5,
        color=INK,
    )
    axes = figure.subplots(panels, 1, squeeze=False, sharex=True)[:, 0]
    figure.subplots_adjust(
        left=0.075, right=0.985, top=1 - 0.95 / height, bottom=0.6 / height, hspace=0.2
    )
    _draw_windows(axes[0], plan, strokes, lateness)
    if strokes is not None:
        _draw_chances(axes[1], plan)
    axes[-1].set_xlabel("cut after part N", color=INK, fontsize=9.5)
    return figure


def _grounds(plan: CutPlan) -> str:
    pours = f"{plan.pours} pour{'s' * (plan.pours != 1)}"
    gate = f", {plan.strokes} stroke{'s' * (plan.strokes != 1)} of the gate" * bool(plan.strokes)
    return f"{pours}{gate}. A plan, not a safety function."


def _title(plan: CutPlan) -> str:
    if not plan.strokes:
        return "The room for the gate between part N and part N + 1"
    if len(plan.rows) == 1:
        return f"The cut after part {plan.rows[0].number}"
    most, rate = plan.expected_up_to, f"{100 * plan.rate:g} %"
    if most is None:
        return f"Not every number of parts is cut exactly in {rate} of bags, as estimated"
    return f"Up to {most} parts are cut exactly in {rate} of bags, as estimated"


def _draw_windows(axis: "Axes", plan: CutPlan, strokes: Strokes | None, lateness: Lateness) -> None:
    """Draw, from when N's tail has cleared the blade, the room and what the gate takes of it."""
    _plain(axis)
    width = 0.8 if len(plan.rows) > 1 else _NARROW
    rooms = [1e3 * (r.trigger.arrive_s - r.trigger.clear_s) for r in plan.rows]
    numbers = [r.number for r in plan.rows]
    axis.bar(
        numbers,
        [max(room, 0.0) for room in rooms],
        width,
        facecolor=SHADE,
        edgecolor=FAINT,
        linewidth=0.8,
        label="room in the worst pour: N has cleared, N + 1 has not come",
        zorder=1,
    )
    none = [n for n, room in zip(numbers, rooms, strict=True) if room <= 0]
    if none:
        axis.plot(none, [0.0] * len(none), "x", color=BEAM, ms=6, label="no room", zorder=4)
    if strokes is not None:
        _draw_gate(axis, plan.rows, strokes, lateness, width)
    axis.axhline(0.0, color=INK, linewidth=0.8, zorder=2)
    axis.set_ylabel("ms after N has cleared the blade", color=INK, fontsize=9.5)
    _legend(axis)
    axis.use_sticky_edges = False
    axis.margins(x=0.02, y=0.06)
    if len(numbers) == 1:
        axis.set_xlim(numbers[0] - 1, numbers[0] + 1)


def _draw_gate(
    axis: "Axes", rows: tuple[CutRow, ...], strokes: Strokes, lateness: Lateness, width: float
) -> None:
    moves = strokes.shutting
    spans = (
        ("reach: the blade enters the stream", moves.begins_s, CAMERA, "", 0.26),
        ("shut: the stream is closed", moves.done_s, BEAM, "////", 0.26),
    )
    for label, times, colour, hatch, share in spans:
        bottoms, heights = [], []
        for row in rows:
            low = _command_s(row) - row.trigger.clear_s + lateness.earliest_s + float(times.min())
            high = _command_s(row) - row.trigger.clear_s + lateness.latest_s + float(times.max())
            bottoms.append(1e3 * low)
            heights.append(max(1e3 * (high - low), 0.02))
        axis.bar(
            [row.number for row in rows],
            heights,
            share * width,
            bottom=bottoms,
            facecolor=colour if not hatch else PAPER,
            edgecolor=colour,
            hatch=hatch,
            linewidth=0.9,
            label=label,
            zorder=3,
        )


def _command_s(row: CutRow) -> float:
    """Return the best delay, or the middle of a window that is empty."""
    own = row.trigger
    if own.delay_s is not None:
        return own.delay_s
    return own.window.middle_s if own.window is not None else 0.0


def _draw_chances(axis: "Axes", plan: CutPlan) -> None:
    _plain(axis)
    told = [row for row in plan.rows if row.outcome is not None]
    numbers = [row.number for row in told]
    exact = [row.outcome.exact for row in told if row.outcome is not None]
    one = len(plan.rows) == 1
    axis.errorbar(
        numbers,
        [100 * chance.estimate for chance in exact],
        yerr=[
            [100 * max(c.estimate - c.low, 0.0) for c in exact],
            [100 * max(c.high - c.estimate, 0.0) for c in exact],
        ],
        fmt="o",
        ms=6 if one else 4,
        color=INK,
        ecolor=FAINT,
        elinewidth=1.1,
        label="exact in pours to come, with 95 % limits for so few pours and strokes",
        zorder=3,
    )
    pinched = [100 * row.outcome.pinched.estimate for row in told if row.outcome is not None]
    axis.plot(numbers, pinched, "x", color=BEAM, ms=5, label="a part is pinched", zorder=2)
    never = [row.number for row in plan.rows if row.outcome is None]
    if never:
        axis.plot(never, [0.0] * len(never), "o", mfc=PAPER, mec=INK, ms=5, label="never exact")
    axis.axhline(
        100 * plan.rate,
        color=CAMERA,
        linewidth=1.0,
        linestyle="--",
        label=f"wanted: {100 * plan.rate:g} %",
        zorder=1,
    )
    axis.set_ylim(-4, 108)
    axis.set_ylabel("chance, %", color=INK, fontsize=9.5)
    _legend(axis)


def _legend(axis: "Axes") -> None:
    """Put the legend above the panel, where no mark can lie under it."""
    axis.legend(
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=4,
        frameon=False,
        fontsize=8.5,
        labelcolor=INK,
        borderaxespad=0.2,
        columnspacing=1.4,
        handletextpad=0.5,
    )


def _plain(axis: "Axes") -> None:
    from matplotlib.ticker import MaxNLocator

    axis.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)
    for side in ("bottom", "left"):
        axis.spines[side].set_color(FAINT)
    axis.grid(axis="y", color=SHADE, linewidth=0.7)
    axis.set_axisbelow(True)
    axis.xaxis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1))
