"""``viscount plugins``: what is installed, from where, and why something was refused."""

from typing import Annotated

import typer

from viscount.cli.options import AsJson

app = typer.Typer(
    help="List the plugins that are installed, or check one.",
    invoke_without_command=True,
    rich_markup_mode=None,
)


@app.callback()
def _list(
    context: typer.Context,
    as_json: AsJson = False,
) -> None:
    """List the plugins that are installed, and why one was refused."""
    if context.invoked_subcommand is not None:
        return
    from viscount.cli.plugin_table import plugins_json, plugins_text
    from viscount.cli.screen import say
    from viscount.hooks.loading import load_plugins

    rows = load_plugins().rows()
    say(plugins_json(rows) if as_json else plugins_text(rows))


@app.command()
def check(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The detector's name.")],
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="OPTION=VALUE",
            help="One of its options; repeatable.",
            show_default=False,
        ),
    ] = None,
    lead_in: Annotated[
        int, typer.Option(min=1, help="Frames of the empty view that it takes to see.")
    ] = 60,
    only_dark: Annotated[
        bool, typer.Option("--only-dark", help="It claims to see parts darker than the view only.")
    ] = False,
    only_bright: Annotated[
        bool, typer.Option("--only-bright", help="It claims to see brighter parts only.")
    ] = False,
) -> None:
    """Run the conformance kit over a detector, in all four falls."""
    from viscount.cli.plugin_check import checked
    from viscount.cli.screen import say
    from viscount.errors import UsageError

    if only_dark and only_bright:
        raise UsageError(
            "--only-dark and --only-bright together", allowed="one of them, or neither"
        )
    owner = checked(
        name,
        settings or (),
        lead_in=lead_in,
        dark_parts=not only_bright,
        bright_parts=not only_dark,
    )
    say(f"{owner} does what the program relies on, in all four directions of fall\n")
