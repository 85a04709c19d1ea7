"""Writing the marks into an outlet file."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from viscount.errors import OutletError
from viscount.monitor.setup.settings import Key, changes, settings_of
from viscount.monitor.setup.state import SetUp
from viscount.outlet.editing import Value, with_key, without_key
from viscount.outlet.saving import save_outlet, text_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where the marks are to be written.

    Attributes
    ----------
    out : the file.
    base : the file that the set-up began with; None where it began with nothing. What it says
        beside the marks is kept, remarks and all.
    source : the recording, told in the first line of a new file.
    """

    out: Path
    base: Path | None = None
    source: str = ""

    @property
    def takes_place_of_another(self) -> bool:
        """Whether saving would write over a file that the set-up did not begin with."""
        if not self.out.exists():
            return False
        return self.base is None or not self.out.samefile(self.base)


def outlet_text(setup: SetUp, target: Target) -> tuple[str, bytes]:
    """Return the text of the outlet file with the marks, and its byte order mark, if any.

    The base is read as it stands now: what somebody else changed in it meanwhile is kept.

    Raises
    ------
    viscount.errors.ViscountError : the base cannot be edited.
    """
    where = str(target.base or target.out)
    edits: dict[Key, Value | None]
    if target.base is None:
        size = f"{setup.width_px} x {setup.height_px} px"
        text, mark = f"# Drawn on {_named(target.source)}, {size}.\n", b""
        edits = {key: one for key, one in settings_of(setup.now).items() if one is not None}
    else:
        try:
            text, mark = text_of(target.base)
        except OSError as error:
            raise OutletError(f"cannot be read ({error.strerror})", where=where) from error
        edits = changes(setup.saved, setup.now)
    for key in _in_turn(edits):
        value = edits[key]
        edited = (
            without_key(text, key, where=where)
            if value is None
            else with_key(text, key, value, where=where)
        )
        text = edited.text
    return text, mark


def save(setup: SetUp, target: Target) -> tuple[SetUp, Target]:
    """Write the file whole; return the set-up as saved, and the target of the next time.

    Raises
    ------
    viscount.errors.ViscountError : it cannot be written; what was there is left as it was.
    """
    text, mark = outlet_text(setup, target)
    save_outlet(target.out, mark + text.encode("utf-8"))
    return replace(setup, saved=setup.now), replace(target, base=target.out)


def _in_turn(edits: Mapping[Key, object]) -> list[Key]:
    """Return keys in the order of writing.

    A new section stands last in the file, and a new key first in its section: so sections are
    written in their own order, and the keys of each backwards.
    """
    sections = dict.fromkeys(section for section, _ in edits)
    return [key for section in sections for key in reversed(list(edits)) if key[0] == section]


def _named(source: str) -> str:
    """Return a source on one line, without the name and password that an address may hold."""
    bare = re.sub(r"//[^/@]*@", "//", source)
    return "".join(sign if sign.isprintable() else "?" for sign in bare) or "a picture"
