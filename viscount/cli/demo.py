"""``viscount demo``: a pour of our own, counted like yours, with the truth beside it."""

from pathlib import Path
from typing import Annotated

import typer


def demo(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="The folder for the demo's files.")
    ] = Path("viscount-demo"),
) -> None:
    """Simulate a pour, count it, and show the truth beside it."""
    from viscount.cli.demonstration import demonstrate
    from viscount.cli.screen import say

    answer, status = demonstrate(out)
    say(answer)
    raise typer.Exit(status)
