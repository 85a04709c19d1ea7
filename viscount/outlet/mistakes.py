"""What is wrong with a file or a setting, and the one error that tells all of it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from viscount.errors import OutletError

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One thing that is wrong.

    Attributes
    ----------
    path : the keys from the top of the file to the place; empty for the file as a whole.
    line : line in the file, from 1, or None where there is no file.
    found, allowed, remedy : as in `viscount.errors.ViscountError`.
    """

    path: KeyPath = ()
    line: int | None = None
    found: str
    allowed: str = ""
    remedy: str = ""


def spoken_path(path: KeyPath) -> str:
    """Return a path as the user would write it: ``view.region_px[2]``."""
    words = ""
    for step in path:
        words += f"[{step}]" if isinstance(step, int) else f".{step}"
    return words.removeprefix(".")


def refusal(mistakes: Iterable[Mistake], place: Callable[[Mistake], str]) -> OutletError:
    """Return one error for all mistakes, in the order of their lines.

    `place` says where a mistake stands, in words.
    """
    errors = [
        OutletError(m.found, where=place(m), allowed=m.allowed, remedy=m.remedy)
        for m in sorted(mistakes, key=lambda m: m.line or 0)
    ]
    if len(errors) == 1:
        return errors[0]
    return OutletError("\n".join([f"{len(errors)} mistakes", *map(str, errors)]))


def place_in_file(file: str) -> Callable[[Mistake], str]:
    """Return the `place` of a file: ``outlet.yaml:7: view.line_px``."""

    def place(mistake: Mistake) -> str:
        head = file if mistake.line is None else f"{file}:{mistake.line}"
        return ": ".join(filter(None, [head, spoken_path(mistake.path)]))

    return place
