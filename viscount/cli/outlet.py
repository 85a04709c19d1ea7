"""``viscount outlet``: an outlet file to start from, its check, and its schema."""

from pathlib import Path
from typing import Annotated

import typer

from viscount.cli.options import CameraOptions, Force, OutletFile

app = typer.Typer(
    help="Write an outlet file to fill in, draw one in a picture, or check one.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command()
def new(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE", help="The file; standard output if none is named."),
    ] = None,
    force: Force = False,
) -> None:
    """Write an outlet file with every key explained, none set."""
    from viscount.cli.screen import say
    from viscount.outlet import outlet_template

    if file is None:
        say(outlet_template())
        return
    _write(file, outlet_template(), force=force)
    say(f"{file}: fill in what you know, then run `viscount outlet check {file}`\n")


@app.command()
def draw(
    source: Annotated[
        str,
        typer.Argument(
            metavar="SOURCE",
            help="A clip, a folder of pictures, a picture; or a camera as for `viscount live`.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The outlet file to write; that of --outlet, or outlet.yaml, if none is named.",
        ),
    ] = None,
    outlet: OutletFile = None,
    theme: Annotated[
        str, typer.Option(metavar="NAME", help="The colours of the window: dark or light.")
    ] = "dark",
    camera: CameraOptions = None,
    for_s: Annotated[
        float, typer.Option("--for", metavar="SECONDS", help="How long to look at a camera.")
    ] = 5.0,
) -> None:
    """Mark line, lip, beam and blade in a picture, with what the check says beside it.

    Opens a window, for which `pip install 'viscount[monitor]'` is needed; where there is none,
    `viscount outlet new` and an editor do the same. A camera is recorded for some seconds first;
    let parts fall meanwhile.
    """
    from viscount.cli.drawing import drawn
    from viscount.cli.screen import say

    say(drawn(source, out=out, outlet=outlet, theme=theme, camera=camera or (), for_s=for_s))


@app.command()
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The outlet file.")],
) -> None:
    """Say what an outlet file sets, and what it leaves open."""
    from viscount.cli.outlet_text import outlet_text
    from viscount.cli.screen import say
    from viscount.outlet import load_outlet

    say(outlet_text(str(file), load_outlet(file)))


@app.command()
def schema(
    part: Annotated[bool, typer.Option("--part", help="The schema of part files instead.")] = False,
) -> None:
    """Print the JSON schema of outlet files, for editors."""
    import json

    from viscount.cli.screen import say
    from viscount.outlet import Outlet, Part, json_schema

    say(json.dumps(json_schema(Part if part else Outlet), indent=2) + "\n")


def _write(file: Path, text: str, *, force: bool) -> None:
    from viscount.errors import UsageError

    try:
        with file.open("w" if force else "x", encoding="utf-8") as opened:
            opened.write(text)
    except FileExistsError:
        raise UsageError(
            "the file is there already",
            where=str(file),
            remedy="take another name, or write over it with --force",
        ) from None
    except OSError as error:
        raise UsageError(
            f"the file cannot be written ({error.strerror})",
            where=str(file),
            allowed="a file in a folder that exists",
        ) from error
