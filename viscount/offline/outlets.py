"""The outlet that a count was made with, or is to be."""

from collections.abc import Sequence
from pathlib import Path

from viscount.codes import Code
from viscount.errors import UsageError, ViscountError
from viscount.outlet import Outlet, Part, marked_outlet, marked_part, outlet_with
from viscount.tally import FileMark, Tally


def given_outlet(
    outlet: str | Path | Outlet | None, part: str | Path | Part | None, settings: Sequence[str]
) -> tuple[Outlet, FileMark | None, FileMark | None]:
    """Return an outlet with its part and the settings over it, and the marks of both files.

    Raises
    ------
    viscount.errors.ViscountError : for a file that cannot be read, or a setting that is none.
    """
    loaded, outlet_mark = marked_outlet(outlet)
    loaded, _ = outlet_with(loaded, settings)
    own_part, part_mark = marked_part(part)
    if own_part is not None:
        loaded = loaded.model_copy(update={"part": own_part})
    return loaded, outlet_mark, part_mark


def outlet_of_tally(
    tally: Tally,
    outlet: str | Path | Outlet | None,
    part: str | Path | Part | None,
    settings: Sequence[str],
) -> tuple[Outlet, FileMark | None, FileMark | None]:
    """Return the outlet of a stored tally: as given, else the files that the tally names.

    Those must be unchanged. The settings of the count's command line stand over the file, and
    `settings` over them.

    Raises
    ------
    viscount.errors.ViscountError : for files that have changed, or cannot be read.
    """
    if outlet is None and tally.outlet is not None:
        outlet = _unchanged(tally.outlet, "--outlet")
    if part is None and tally.part is not None:
        part = _unchanged(tally.part, "--part")
    return given_outlet(outlet, part, [*_given(tally), *settings])


def _given(tally: Tally) -> list[str]:
    """Return the settings of the command line that the count was made with."""
    made = (a for a in tally.assumed if a.code is Code.SETTING_FROM_COMMAND_LINE)
    return [f"{one.text.split(' ', 1)[0]}={one.value}" for one in made]


def _unchanged(mark: FileMark, option: str) -> Path:
    """Return the file that a tally names, if it is still the same."""
    path = Path(mark.name)
    try:
        _, found = marked_outlet(path) if option == "--outlet" else marked_part(path)
    except (OSError, ViscountError):
        found = None
    if found is None or found.sha256 != mark.sha256:
        raise UsageError(
            f"the tally rests on {mark.name}, which is not there any more or has changed",
            where=option,
            remedy=f"name the file with {option}",
        )
    return path
