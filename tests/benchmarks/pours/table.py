"""The figures of many pours for reading."""

from collections.abc import Mapping

from benchmarks.accuracy.cases import Mode
from benchmarks.accuracy.summary import OUTCOMES, Share
from benchmarks.accuracy.table import STYLES
from benchmarks.pours.figures import ModeFigures
from rich.console import Console
from rich.table import Table

REASONS_SHOWN = 10


def show(figures: Mapping[Mode, ModeFigures], console: Console) -> None:
    """Print what all pours come to, mode by mode."""
    for mode, found in figures.items():
        console.print(_outcomes(mode, found))
        console.print(_calibration(mode, found))
        for line in _sayings(found):
            console.print(f"  {line}", highlight=False)
        console.print()


def _outcomes(mode: Mode, found: ModeFigures) -> Table:
    table = Table(title=f"{mode}: outcomes", caption="right: the true number, whatever the status")
    table.add_column("")
    table.add_column("pours", justify="right")
    for name in OUTCOMES:
        table.add_column(name, justify="right", style=STYLES.get(name))
    table.add_column("right", justify="right")
    for group, by_outcome in found.outcomes.items():
        right = found.right[group]
        numbers = (str(one.number) for one in by_outcome.values())
        table.add_row(group, str(right.of), *numbers, str(right.number))
    return table


def _calibration(mode: Mode, found: ModeFigures) -> Table:
    table = Table(title=f"{mode}: are range and doubts honest? (without invalid pours)")
    for name in ("", "of", "stated", "found", "95 % limits"):
        table.add_column(name, justify="right" if name else "left")
    held = found.in_range
    table.add_row("true number in the range", str(held.of), "at least 95 %", *_shared(held))
    for one in found.doubts:
        name = f"passages of doubt {one.low:g} to {one.high:g}: wrong"
        stated = f"{one.mean_doubt:.2%}" if one.passages else "-"
        table.add_row(name, str(one.passages), stated, *_shared(one.wrong))
    table.caption = "The limits take passages as independent, which those of one pour are not."
    return table


def _sayings(found: ModeFigures) -> list[str]:
    exact, wrong = found.separable("clean, exact"), found.separable("clean, wrong")
    share, limits = _shared(exact)
    said = [
        f"separable, clean and exact: {exact.number} of {exact.of}, {share} (95 % limits {limits})",
        f"separable, clean and wrong: {wrong.number} of {wrong.of}"
        + (f", so below {wrong.upper:.2%} with 95 % confidence" if wrong.upper is not None else ""),
    ]
    for group, seeds in found.clean_wrong.items():
        if seeds:
            said.append(f"[bold red]clean and wrong, {group}: seeds {_listed(seeds)}")
    if found.doubtful:
        said.append(f"the first doubtful of the separable: seeds {_listed(found.doubtful)}")
    if found.reasons:
        commonest = list(found.reasons.items())[:REASONS_SHOWN]
        listed = ", ".join(f"{reason} {number}" for reason, number in commonest)
        said.append(f"why separable pours were not clean: {listed}")
    return said


def _shared(share: Share) -> tuple[str, str]:
    if share.limits is None:
        return "-", "-"
    low, high = share.limits
    return f"{share.number / share.of:.2%}", f"{low:.2%} to {high:.2%}"


def _listed(seeds: list[int]) -> str:
    return ", ".join(str(seed) for seed in seeds)
