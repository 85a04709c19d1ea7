"""The program ``viscount``: its commands and its global options.

Nothing heavy is imported here: ``viscount --help`` is to answer at once.
"""

import logging
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.check import check
from viscount.cli.compare import compare
from viscount.cli.count import count
from viscount.cli.cut import cut
from viscount.cli.demo import demo
from viscount.cli.ending import Commands
from viscount.cli.live import live
from viscount.cli.logs import logging_to
from viscount.cli.monitor import monitor
from viscount.cli.outlet import app as outlet
from viscount.cli.pack import pack
from viscount.cli.plan import plan
from viscount.cli.plugins import app as plugins
from viscount.cli.pool import pool
from viscount.cli.scale import scale
from viscount.cli.screen import complain, say
from viscount.cli.simulate import simulate
from viscount.cli.spacing import spacing
from viscount.cli.strokes import strokes
from viscount.cli.teach import teach
from viscount.errors import ExitStatus

_log = logging.getLogger("viscount.cli")

app = typer.Typer(
    name="viscount",
    cls=Commands,
    help="Count small falling parts with a camera, beside the beam that counts them already.",
    epilog=(
        "Exit status: 0 clean, 10 doubtful, 11 clean but not the expected number, 12 invalid, "
        "2 the call or the input cannot be used, 130 interrupted, 1 the program itself broke."
    ),
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command()(count)
app.command()(compare)
app.command()(pool)
app.command()(check)
app.command()(spacing)
app.command()(live)
app.command()(pack)
app.command()(monitor)
app.command()(plan)
app.command()(strokes)
app.command()(cut)
app.command()(demo)
app.command()(teach)
app.command()(scale)
app.command()(simulate)
app.add_typer(outlet, name="outlet")
app.add_typer(plugins, name="plugins")


def _print_versions(asked: bool) -> None:
    if asked:
        from viscount.cli.versions import version_lines

        say("\n".join(version_lines()) + "\n")
        raise typer.Exit


@app.callback()
def _global_options(
    context: typer.Context,
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            callback=_print_versions,
            is_eager=True,
            help="Print the versions of viscount and its libraries.",
        ),
    ] = False,
    verbose: Annotated[
        int,
        typer.Option("--verbose", "-v", count=True, help="Say what happens; twice for details."),
    ] = 0,
    log: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write every detail into a file.")
    ] = None,
) -> None:
    context.with_resource(logging_to(verbose, log))
    _log.debug("called as %s", sys.argv)


def run(arguments: Sequence[str]) -> int:
    """Run the program with these arguments; return its exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A name that the terminal cannot show must not break the answer.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        typer.main.get_command(app).main(list(arguments), prog_name="viscount")
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else ExitStatus.CLEAN
    except Exception:
        traceback.print_exc()
        complain("the program itself broke; please report this with `viscount --version`")
        return 1
    return ExitStatus.CLEAN
