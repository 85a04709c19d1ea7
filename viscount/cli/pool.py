"""``viscount pool``: many stored tallies of one machine and one part together."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import AsJson


def pool(
    tallies: Annotated[
        list[Path],
        typer.Argument(
            metavar="TALLY.json...", help="What `viscount count --beam --json` printed, each run."
        ),
    ],
    one_in: Annotated[
        int,
        typer.Option(min=2, metavar="N", help="How many bags one wrong one is wanted in, at most."),
    ] = 1000,
    as_json: AsJson = False,
) -> None:
    """Say how often each counter errs, by many stored runs of one machine and one part."""
    import json

    from viscount.cli.pool_text import pool_text
    from viscount.cli.screen import on_terminal, say
    from viscount.counters.pool import pooled
    from viscount.report.pool_json import pool_json
    from viscount.report.run_reading import read_run

    found = pooled([read_run(path) for path in tallies], 1.0 / one_in)
    if as_json:
        indent = 2 if on_terminal() else None
        say(json.dumps(pool_json(found), allow_nan=False, indent=indent) + "\n")
    else:
        say(pool_text(found))
