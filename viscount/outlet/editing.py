"""Setting a key in the text of an outlet file, everything else left as it stands.

Comments, order, spacing, quotes and line ends stay. What the edited text says is compared with
what was said before; where anything but the key differs, the edit is refused.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import yaml

from viscount.errors import OutletError
from viscount.outlet.mistakes import KeyPath
from viscount.outlet.strict_yaml import parse

_STEP = "  "


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """The new text, and what the key said before; None where it was not there."""

    text: str
    before: object


def with_key(text: str, path: tuple[str, str], value: float, *, where: str) -> Edited:
    """Return the text with one key of a section set to a number.

    Parameters
    ----------
    text : of an outlet file that loads.
    path : the section and the key, ``("view", "scale_px_per_mm")``.
    value : the number, written so that it reads back as the same.
    where : the file's name, for errors.

    Raises
    ------
    OutletError : the text cannot be edited without changing anything else.
    """
    before = _plain(text, where)
    new = _edited(text, path, repr(float(value)))
    after = _plain(new, where)
    section = before.get(path[0])
    old = section.get(path[1]) if isinstance(section, Mapping) else None
    kept = dict(section) if isinstance(section, Mapping) else {}
    wanted = {**before, path[0]: {**kept, path[1]: float(value)}}
    if after != wanted:
        raise OutletError(
            f"{'.'.join(path)} cannot be set without changing something else",
            where=where,
            allowed=f"sections by indentation: `{path[0]}:`, and below it `{path[1]}: ...`",
            remedy=f"write {path[1]}: {float(value)!r} below {path[0]} yourself",
        )
    return Edited(text=new, before=old)


def _plain(text: str, where: str) -> dict[str, Any]:
    document = parse(text)
    if document.mistakes or not isinstance(document.value, Mapping | None):
        raise OutletError("the text is no outlet file", where=where, remedy="correct it first")
    return dict(document.value or {})


def _edited(text: str, path: KeyPath, number: str) -> str:
    end = "\r\n" if "\r\n" in text else "\n"
    section, key = str(path[0]), str(path[1])
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    line = f"{key}: {number}"
    if not isinstance(root, yaml.MappingNode):
        return _closed(text, end) + f"{section}:{end}{_STEP}{line}{end}"
    held = _value_of(root, section)
    if held is None:
        if root.flow_style:
            return _opened(text, root, f"{section}: {{{line}}}")
        return _appended(text, root, f"{section}:{end}{_STEP}{line}", end)
    if not isinstance(held, yaml.MappingNode):
        return _below(text, _key_of(root, section), f"{_STEP}{line}", end)
    value = _value_of(held, key)
    if value is not None:
        if value.start_mark.index == value.end_mark.index:
            at = _key_of(held, key).end_mark.index + 1
            return f"{text[:at]} {number}{text[at:]}"
        return text[: value.start_mark.index] + number + text[value.end_mark.index :]
    if held.flow_style:
        return _opened(text, held, line)
    first = held.value[0][0].start_mark
    indent = text[first.index - first.column : first.index]
    return text[: first.index] + line + end + indent + text[first.index :]


def _value_of(node: yaml.MappingNode, key: str) -> yaml.Node | None:
    return next((value for name, value in node.value if name.value == key), None)


def _key_of(node: yaml.MappingNode, key: str) -> yaml.Node:
    found: yaml.Node = next(name for name, _ in node.value if name.value == key)
    return found


def _opened(text: str, node: yaml.MappingNode, line: str) -> str:
    """Put a pair first into a mapping in braces."""
    at = node.start_mark.index + 1
    return f"{text[:at]}{line}{', ' if node.value else ''}{text[at:]}"


def _below(text: str, key: yaml.Node, line: str, end: str) -> str:
    """Put a line below the one that a key without a value stands on."""
    stop = text.find("\n", key.end_mark.index)
    if stop < 0:
        return f"{text}{end}{line}{end}"
    return f"{text[: stop + 1]}{line}{end}{text[stop + 1 :]}"


def _appended(text: str, root: yaml.MappingNode, lines: str, end: str) -> str:
    """Put a section after the last, before an end of the document."""
    stop = root.end_mark.index
    rest = text[stop:]
    if rest.lstrip().startswith(("...", "---")):
        return _closed(text[:stop], end) + lines + end + rest
    return _closed(text, end) + lines + end


def _closed(text: str, end: str) -> str:
    return text if not text or text.endswith("\n") else text + end
