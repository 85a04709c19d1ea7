"""The bench's figures for reading."""

from collections.abc import Sequence

from benchmarks.accuracy import summary
from benchmarks.accuracy.judging import Judgement
from benchmarks.accuracy.summary import Share
from rich.console import Console
from rich.table import Table

from viscount.values import Status

STYLES = {"clean, wrong": "bold red", "doubtful": "yellow", "invalid": "magenta"}


def show(judged: Sequence[Judgement], console: Console) -> None:
    """Print every scene, then what all come to."""
    console.print(_scenes(judged))
    for mode in dict.fromkeys(j.mode for j in judged):
        group = [j for j in judged if j.mode == mode]
        console.print(outcomes(mode, group))
        console.print(exact(mode, group))
        console.print(_calibration(mode, group))


def _scenes(judged: Sequence[Judgement]) -> Table:
    rivals = list(judged[0].rivals) if judged else []
    table = Table(title="scene by scene")
    table.add_column("scene")
    table.add_column("mode")
    for name in ("true", "count", "range"):
        table.add_column(name, justify="right")
    table.add_column("status")
    for name in ("rms ms", "z", "bound", "ms/frame", *rivals):
        table.add_column(name, justify="right")
    for one in judged:
        timing = one.timing
        bound = timing.bound_ratio if timing else None
        table.add_row(
            one.scene,
            one.mode if one.separable else f"{one.mode} *",
            str(one.true),
            "-" if one.count is None else str(one.count),
            f"{one.low}-{one.high}",
            one.outcome
            if one.status is Status.CLEAN
            else f"{one.outcome}: {', '.join(one.reasons)}",
            f"{timing.rms_ms:.4f}" if timing else "-",
            f"{timing.normalised:.2f}" if timing else "-",
            f"{bound:.2f}" if bound is not None else "",
            f"{one.ms_per_frame:.2f}",
            *(str(one.rivals[name]) for name in rivals),
            style=STYLES.get(one.outcome),
        )
    table.caption = "* not separable. z: rms of (time - true) / sigma."
    return table


def outcomes(mode: str, group: Sequence[Judgement]) -> Table:
    """Return how often each outcome came about, by group of scenes."""
    table = Table(title=f"{mode}: outcomes", caption="in brackets: 95 % upper limit of a zero")
    table.add_column("")
    table.add_column("pours", justify="right")
    for name in summary.OUTCOMES:
        table.add_column(name, justify="right")
    for name, found in summary.outcomes(group).items():
        pours = next(iter(found.values())).of
        table.add_row(name, str(pours), *(_said(one) for one in found.values()))
    return table


def exact(mode: str, group: Sequence[Judgement]) -> Table:
    """Return how often each number was the true one, by group of scenes."""
    table = Table(title=f"{mode}: the true number, whatever the status")
    table.add_column("")
    columns = ["viscount", *(group[0].rivals if group else ())]
    for name in columns:
        table.add_column(name, justify="right")
    for name, found in summary.rivals_exact(group).items():
        table.add_row(name, *(f"{found[c].number} of {found[c].of}" for c in columns))
    return table


def _calibration(mode: str, group: Sequence[Judgement]) -> Table:
    table = Table(title=f"{mode}: are range and doubts honest?")
    table.add_column("")
    table.add_column("of", justify="right")
    table.add_column("stated", justify="right")
    table.add_column("wrong", justify="right")
    for status, found in summary.held(group).items():
        table.add_row(f"range of a {status} count", str(found.of), "", _said(found))
    for one in summary.doubts(group):
        if one.passages:
            name = f"passages with doubt {one.low:g} to {one.high:g}"
            table.add_row(name, str(one.passages), f"{one.mean_doubt:.4f}", _said(one.wrong))
    return table


def _said(found: Share) -> str:
    if found.upper is None:
        return "-"
    return f"0 (<{found.upper:.3f})" if not found.number else str(found.number)
