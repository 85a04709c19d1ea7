"""Setting or removing a key in the text of an outlet file, everything else left as it stands.

Comments, order, spacing, quotes and line ends stay. What the edited text says is compared with
what was said before; where anything but the key differs, the edit is refused.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import yaml

from viscount.errors import OutletError
from viscount.outlet.keys import ONE_OF
from viscount.outlet.mistakes import KeyPath
from viscount.outlet.strict_yaml import parse

_STEP = "  "

Value = float | str | tuple[int, ...]
"""What a key can be set to: a number, a plain word, or whole numbers in brackets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """The new text, and what the key said before; None where it was not there."""

    text: str
    before: object


def with_key(text: str, path: tuple[str, str], value: Value, *, where: str) -> Edited:
    """Return the text with one key of a section set.

    Of a pair of which only one may stand, `at_px` and `below_lip_mm`, it takes the other's place.

    Parameters
    ----------
    text : of an outlet file that loads.
    path : the section and the key, ``("view", "scale_px_per_mm")``.
    value : what it is to say, written so that it reads back as the same.
    where : the file's name, for errors.

    Raises
    ------
    OutletError : the text cannot be edited without changing anything else.
    """
    before = _plain(text, where)
    section, key = path
    kept = _section(before, section)
    other = next((name for name in ONE_OF if key in ONE_OF and name != key), None)
    stands = other if other in kept and key not in kept else None
    written, plain = _written(value)
    new = _edited(text, path, written, instead_of=stands)
    wanted = {name: one for name, one in kept.items() if name != stands} | {key: plain}
    if _plain(new, where) != {**before, section: wanted}:
        raise OutletError(
            f"{section}.{key} cannot be set without changing something else",
            where=where,
            allowed=f"sections by indentation: `{section}:`, and below it `{key}: ...`",
            remedy=f"write {key}: {written} below {section} yourself",
        )
    return Edited(text=new, before=kept.get(key))


def without_key(text: str, path: tuple[str, str], *, where: str) -> Edited:
    """Return the text without one key of a section; as it is where the key does not stand there.

    A remark on the key's own line goes with it.

    Raises
    ------
    OutletError : the text cannot be edited without changing anything else.
    """
    before = _plain(text, where)
    section, key = path
    kept = _section(before, section)
    if key not in kept:
        return Edited(text=text, before=None)
    new = _cut(text, path)
    after = _plain(new, where)
    wanted = {name: one for name, one in kept.items() if name != key}
    if {**after, section: _section(after, section)} != {**before, section: wanted}:
        raise OutletError(
            f"{section}.{key} cannot be removed without changing something else",
            where=where,
            remedy=f"remove {key} below {section} yourself",
        )
    return Edited(text=new, before=kept[key])


def _section(whole: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return a section as it stands; empty where it is not there, or nothing is in it."""
    section = whole.get(name)
    return dict(section) if isinstance(section, Mapping) else {}


def _written(value: Value) -> tuple[str, object]:
    """Return a value as text of the file, and as what that text reads back as."""
    if isinstance(value, str):
        return str(value), str(value)
    if isinstance(value, tuple):
        return str(list(value)), list(value)
    return repr(float(value)), float(value)


def _plain(text: str, where: str) -> dict[str, Any]:
    document = parse(text)
    if document.mistakes or not isinstance(document.value, Mapping | None):
        raise OutletError("the text is no outlet file", where=where, remedy="correct it first")
    return dict(document.value or {})


def _edited(text: str, path: KeyPath, number: str, *, instead_of: str | None) -> str:
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
    if instead_of is not None:
        name = _key_of(held, instead_of)
        text = text[: name.start_mark.index] + key + text[name.end_mark.index :]
        return _edited(text, path, number, instead_of=None)
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


def _cut(text: str, path: tuple[str, str]) -> str:
    """Take a key that is there out of a section: its lines, or its place between braces."""
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    held = _value_of(root, path[0]) if isinstance(root, yaml.MappingNode) else None
    if not isinstance(held, yaml.MappingNode):
        return text
    place = [name.value for name, _ in held.value].index(path[1])
    name, value = held.value[place]
    if not held.flow_style:
        start = text.rfind("\n", 0, name.start_mark.index) + 1
        stop = text.find("\n", max(name.end_mark.index, value.end_mark.index))
        return text[:start] + (text[stop + 1 :] if stop >= 0 else "")
    if place + 1 < len(held.value):
        return text[: name.start_mark.index] + text[held.value[place + 1][0].start_mark.index :]
    start = held.value[place - 1][1].end_mark.index if place else name.start_mark.index
    return text[:start] + text[value.end_mark.index :]


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
