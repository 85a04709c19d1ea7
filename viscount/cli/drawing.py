"""Marking an outlet for a command: a recording of the source, and the window on it."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from viscount.cli.screen import shown
from viscount.monitor.probe import require_window
from viscount.monitor.theme import theme_named

_DEFAULT = Path("outlet.yaml")


def drawn(
    source: str,
    *,
    out: Path | None,
    outlet: Path | None,
    theme: str,
    camera: Sequence[str],
    for_s: float,
) -> str:
    """Let the user mark an outlet; return what to say when the window is shut.

    Raises
    ------
    ViscountError : no window can be opened, or the source cannot be read or recorded.
    """
    colours = theme_named(theme)
    with ThreadPoolExecutor(max_workers=1) as pool:
        asked = pool.submit(require_window, plots=False)
        # What takes long to import is imported while a child finds out about windows.
        from viscount.cli.recorded import recorded
        from viscount.monitor.setup.saving import Target
        from viscount.monitor.setup_view.opening import draw_outlet

        asked.result()
    target = Target(out=out or outlet or _DEFAULT, base=outlet, source=source)
    with recorded(source, outlet=outlet, camera=camera, for_s=for_s, shows_line=True) as clip:
        next_one = "count" if clip == Path(source) else "live"
        written = draw_outlet(clip, target, colours, title=source)
    if not written:
        return "nothing was written\n"
    name, of = shown(str(target.out)), shown(source)
    return f"{name} is written; next: viscount {next_one} {of} --outlet {name}\n"
