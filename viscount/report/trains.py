"""The plot of two counters: both event trains on one time axis, with the pairings between them.

Differences are told by shape and line, not by colour alone: the picture stays legible in grey.
"""

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from viscount.errors import ExitStatus, ViscountError
from viscount.report.stretches import Drawn, Panel, differs, panels
from viscount.report.whole_file import write_whole
from viscount.tally import Tally
from viscount.values import Pairs

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, FAINT, SHADE, PAPER = "#22272e", "#8b939c", "#e6e9ed", "#ffffff"
MERGED, CAMERA, BEAM, UNSURE = "#b4540a", "#0b5fa5", "#a3123f", "#6b3fa0"
CAMERA_Y, BEAM_TOP, BEAM_Y = 1.0, 0.2, 0.0
WIDTH_IN, PANEL_IN, HEAD_IN, DPI = 12.0, 1.9, 1.4, 110
LABELS_APART = 0.055
"""Labels nearer to each other than this share of a panel stand on two levels."""

_STYLES: dict[Pairs, dict[str, Any]] = {
    Pairs.AGREED: {"color": FAINT, "linewidth": 0.8, "linestyle": "-"},
    Pairs.SPLIT_PULSE: {"color": FAINT, "linewidth": 0.8, "linestyle": ":"},
    Pairs.MERGED_PULSE: {"color": MERGED, "linewidth": 1.8, "linestyle": "-"},
    Pairs.AMBIGUOUS: {"color": UNSURE, "linewidth": 1.4, "linestyle": "--"},
}

_BARS: dict[Pairs, tuple[str, str, str | None]] = {
    Pairs.MERGED_PULSE: ("#f6d2ae", MERGED, "////"),
    Pairs.BEAM_ONLY: (PAPER, BEAM, "xxxx"),
    Pairs.AMBIGUOUS: (PAPER, UNSURE, "...."),
}
"""Face, edge and hatching of a pulse; dark with a light edge where nothing is odd."""


class PlotError(ViscountError):
    """A plot that cannot be drawn or written."""

    exit_status = ExitStatus.INVALID


class NoPlottingError(ViscountError):
    """The library that draws is not installed."""


def require_plotting() -> None:
    """Refuse where matplotlib is not installed.

    Raises
    ------
    NoPlottingError
    """
    try:
        import matplotlib as mpl  # noqa: F401
    except ImportError as error:
        raise NoPlottingError(
            "plots need matplotlib, which is not installed",
            where="--plot",
            remedy="install it with the extra `report`, or leave --plot out",
        ) from error


def write_trains(tally: Tally, path: Path) -> None:
    """Draw a tally of two counters into a PNG file, which appears only when it is whole.

    Raises
    ------
    PlotError : the file cannot be written.
    """
    write_figure(trains_figure(tally), path)


def write_figure(figure: "Figure", path: Path) -> None:
    """Write a figure into a PNG file, which appears only when it is whole.

    Raises
    ------
    PlotError : the file cannot be written.
    """
    page = io.BytesIO()
    figure.savefig(page, format="png", dpi=DPI, facecolor=PAPER)
    try:
        write_whole(path, page.getvalue())
    except OSError as error:
        raise PlotError(
            f"the plot cannot be written ({error.strerror})", where=str(path)
        ) from error


def trains_figure(tally: Tally) -> "Figure":
    """Return the figure of a tally that has an agreement."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    shown, left_out = panels(tally)
    rows = max(len(shown), 1)
    height = HEAD_IN + PANEL_IN * rows
    figure = Figure(figsize=(WIDTH_IN, height))
    FigureCanvasAgg(figure)
    figure.text(0.03, 1 - 0.28 / height, _title(tally), fontsize=13, color=INK, weight="bold")
    figure.text(0.03, 1 - 0.53 / height, _subtitle(tally, left_out), fontsize=9.5, color=INK)
    axes = figure.subplots(rows, 1, squeeze=False)[:, 0]
    figure.subplots_adjust(
        left=0.085,
        right=0.985,
        top=1 - 0.86 / height,
        bottom=0.62 / height,
        hspace=0.36,
    )
    for axis, panel in zip(axes, shown, strict=False):
        _draw_panel(axis, panel, tally)
    if shown:
        axes[-1].set_xlabel("time at the beam, s from the first frame", color=INK, fontsize=9.5)
        _legend(figure, shown, tally)
    else:
        axes[0].set_axis_off()
        text = "the clocks of camera and beam could not be brought together: nothing to draw"
        axes[0].text(0.5, 0.5, text, ha="center", va="center", color=INK, fontsize=11)
    return figure


def _title(tally: Tally) -> str:
    name = Path(tally.source).name
    if tally.count is None:
        return f"{name}: no count, {tally.status}"
    return f"{name}: {tally.count} part{'' if tally.count == 1 else 's'}, {tally.status}"


def _subtitle(tally: Tally, left_out: int) -> str:
    beam, own = tally.beam, tally.agreement
    if beam is None or own is None:
        return ""
    text = (
        f"camera {tally.camera.count}, beam {beam.parts} from {beam.pulses} pulses; pairings: "
        f"{own.agreed} agreed, {own.merged_pulses} merged, {own.split_pulses} split, "
        f"{own.camera_only} camera only, {own.beam_only} beam only, {own.ambiguous} ambiguous"
    )
    return f"{text}. {left_out} more stretches with differences are not drawn" if left_out else text


def _draw_panel(axis: "Axes", panel: Panel, tally: Tally) -> None:
    start, end = panel.span_s
    axis.set_xlim(start, end)
    axis.set_ylim(-0.42, 1.62)
    axis.set_yticks([CAMERA_Y, BEAM_TOP / 2], ["camera", "beam"], color=INK, fontsize=10)
    axis.tick_params(axis="y", length=0)
    axis.tick_params(axis="x", labelsize=8.5, color=FAINT, labelcolor=INK)
    for side in ("top", "right", "left"):
        axis.spines[side].set_visible(False)
    axis.spines["bottom"].set_color(FAINT)
    for level in (CAMERA_Y, BEAM_Y):
        axis.axhline(level, color=FAINT, linewidth=0.5, zorder=0)
    if panel.title:
        axis.set_title(panel.title, loc="left", fontsize=9.5, color=INK, pad=3)
    _draw_blind(axis, tally, (start, end))
    for one in panel.drawn:
        _draw_pairing(axis, one)
    _draw_labels(axis, panel)


def _draw_blind(axis: "Axes", tally: Tally, span: tuple[float, float]) -> None:
    """Shade when the camera was blind, moved by its usual way to the beam."""
    for low, high in _blind_at_beam(tally):
        if high > span[0] and low < span[1]:
            axis.axvspan(
                max(low, span[0]),
                min(high, span[1]),
                ymin=0.58,
                ymax=0.8,
                facecolor=SHADE,
                edgecolor=FAINT,
                hatch="////",
                linewidth=0.0,
                zorder=0,
            )


def _blind_at_beam(tally: Tally) -> list[tuple[float, float]]:
    line = {one.passage.id: one.passage.t_ns for one in tally.passages}
    ways = sorted(
        p.t_ns - (p.late_ns or 0) - line[p.passages[0]]
        for p in (one.pairing for one in tally.pairings)
        if p.passages and p.t_ns is not None
    )
    way = 1e-9 * ways[len(ways) // 2] if ways else 0.0
    return [(low + way, high + way) for low, high in tally.frames.blind]


def _draw_pairing(axis: "Axes", one: Drawn) -> None:
    kind = one.pairing.kind
    style = _STYLES.get(kind)
    if style is not None:
        for due in one.due_s:
            for start, end in one.pulses_s:
                # A later part of a long pulse is somewhere inside of it.
                foot = min(max(due, start), end) if len(one.due_s) > 1 else start
                axis.plot([due, foot], [CAMERA_Y - 0.06, BEAM_TOP], zorder=1, **style)
    alone_camera = kind is Pairs.CAMERA_ONLY
    for due in one.due_s:
        colour = {Pairs.MERGED_PULSE: MERGED, Pairs.AMBIGUOUS: UNSURE}.get(kind, INK)
        if alone_camera and one.pairing.parts:
            axis.plot(
                due, CAMERA_Y, "o", ms=10, mfc=PAPER, mec=CAMERA, mew=1.8, zorder=3, clip_on=False
            )
            axis.plot(due, CAMERA_Y, "v", ms=4, color=CAMERA, zorder=4, clip_on=False)
            axis.plot(
                [due, due],
                [CAMERA_Y - 0.12, BEAM_Y],
                color=CAMERA,
                lw=1.0,
                ls=(0, (1, 3)),
                zorder=1,
            )
        elif alone_camera:
            axis.plot(due, CAMERA_Y, "v", ms=5, mfc=PAPER, mec=FAINT, zorder=3, clip_on=False)
        else:
            axis.plot(due, CAMERA_Y, "v", ms=6, color=colour, zorder=3, clip_on=False)
    face, edge, hatch = _BARS.get(kind, (INK, PAPER, None))
    for start, end in one.pulses_s:
        axis.fill_between(
            [start, end],
            BEAM_Y,
            BEAM_TOP,
            facecolor=face,
            edgecolor=edge,
            hatch=hatch,
            linewidth=0.8,
            zorder=2,
        )


def _draw_labels(axis: "Axes", panel: Panel) -> None:
    """Name each difference; neighbours' labels stand on two levels."""
    start, end = panel.span_s
    last = {True: (-1.0, 1), False: (-1.0, 1)}
    for one in panel.drawn:
        if not differs(one.pairing):
            continue
        text, above, colour = _label(one)
        x = (one.due_s[0] + one.due_s[-1]) / 2 if above else sum(one.pulses_s[0]) / 2
        share = (x - start) / (end - start)
        before, level = last[above]
        level = 1 - level if share - before < LABELS_APART else 0
        last[above] = (share, level)
        y = 1.17 + 0.2 * level if above else -0.08 - 0.16 * level
        axis.text(
            x,
            y,
            text,
            ha="center",
            va="bottom" if above else "top",
            fontsize=8.5,
            color=colour,
            weight="bold",
        )


def _label(one: Drawn) -> tuple[str, bool, str]:
    """Return a difference's label, whether it stands above the camera, and its colour."""
    pairing = one.pairing
    match pairing.kind:
        case Pairs.MERGED_PULSE:
            return f"{abs(pairing.parts)} in 1", bool(one.due_s), MERGED
        case Pairs.CAMERA_ONLY:
            return ("not watched" if pairing.excused else "no pulse"), True, CAMERA
        case Pairs.BEAM_ONLY:
            if not pairing.parts:
                return "no part", False, BEAM
            return ("not watched" if pairing.excused else "not seen"), False, BEAM
        case _:
            return "?", bool(one.due_s), UNSURE


def _legend(figure: "Figure", shown: list[Panel], tally: Tally) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    kinds = {one.pairing.kind for panel in shown for one in panel.drawn}
    marks: list[Any] = [
        Line2D([], [], color=INK, marker="v", ls="", ms=6, label="part at the beam, by the camera"),
        Patch(facecolor=INK, label="beam dark"),
    ]
    names = {
        Pairs.AGREED: "agreed",
        Pairs.SPLIT_PULSE: "several pulses of one part",
        Pairs.MERGED_PULSE: "several parts in one pulse",
        Pairs.AMBIGUOUS: "entangled",
    }
    marks += [Line2D([], [], label=names[kind], **_STYLES[kind]) for kind in names if kind in kinds]
    if Pairs.CAMERA_ONLY in kinds:
        ring: dict[str, Any] = {"marker": "o", "ms": 8, "mfc": PAPER, "mec": CAMERA, "mew": 1.6}
        marks.append(Line2D([], [], ls="", label="camera only", **ring))
    if Pairs.BEAM_ONLY in kinds:
        marks.append(Patch(facecolor=PAPER, edgecolor=BEAM, hatch="xxxx", label="beam only"))
    if tally.frames.blind:
        marks.append(Patch(facecolor=SHADE, edgecolor=FAINT, hatch="////", label="camera blind"))
    figure.legend(
        handles=marks,
        loc="lower center",
        ncols=len(marks),
        frameon=False,
        fontsize=8.5,
        labelcolor=INK,
        columnspacing=1.6,
        handletextpad=0.5,
        borderaxespad=0.15,
    )
