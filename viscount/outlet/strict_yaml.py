"""YAML without its traps: text to plain values, each with the line it stands on.

PyYAML finds the structure; this module decides what a scalar means, because YAML 1.1 reads
``12:30`` as 750, ``017`` as 15, ``on`` as true and ``1e3`` as text. Here a plain scalar is
empty or null, true or false, a decimal number, or text. Whatever other readers take for
something else is refused in words. Quoted scalars and keys are always text.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import yaml

from viscount.outlet.mistakes import KeyPath, Mistake

DEEPEST = 16
"""How many mappings and lists may stand inside one another."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_WHOLE = re.compile(r"[-+]?[0-9]+")
_QUOTE = "put it in quotes where it is text"
_TRAPS = (
    (
        re.compile(r"[-+]?[0-9]+(?::[0-9]+)+(?:\.[0-9]*)?"),
        "reads as a time of day or a number to base 60",
        f"write one plain number, or {_QUOTE}",
    ),
    (
        re.compile(r"yes|no|on|off", re.IGNORECASE),
        "is a switch to some readers of YAML and text to others",
        f"write true or false, or {_QUOTE}",
    ),
    (
        re.compile(r"[-+]?\.(?:inf|nan)", re.IGNORECASE),
        "is not a finite number",
        "leave the key out where the value is not known",
    ),
    (
        re.compile(r"[-+]?0[xob][0-9a-f_]+", re.IGNORECASE),
        "is not a decimal number",
        f"write it with decimal digits, or {_QUOTE}",
    ),
    (
        re.compile(r"[-+]?0[0-9][0-9_]*(?:\.[0-9_]*)?(?:[eE][-+]?[0-9]+)?"),
        "begins with a zero, which some readers of YAML take for base 8",
        f"leave the zero out, or {_QUOTE}",
    ),
    (
        re.compile(r"[-+]?[0-9][0-9.]*_[0-9_.]*(?:[eE][-+]?[0-9]+)?"),
        "has an underscore between its digits",
        f"leave the underscore out, or {_QUOTE}",
    ),
)
_WORDS: dict[str, bool | None] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}

_BAD = object()
_ALIAS = "an anchor (&) or alias (*)"
_WRITE_OUT = f"write the value out, or {_QUOTE}"

# What PyYAML says, what we say, and the remedy.
_SYNTAX = (
    ("expected alphabetic or numeric character", _ALIAS, _WRITE_OUT),
    ("another document", "a second document (---) begins here", "keep one document in one file"),
    (
        "mapping values are not allowed",
        "a colon that fits nowhere",
        "indent with spaces, put one space after each colon (look at the line above too), "
        "and put text with a colon in quotes",
    ),
    (
        "could not find expected ':'",
        "a line that is not `key: value`",
        "put a colon and a space after each key",
    ),
    (
        "expected ',' or",
        "a bracket that is not closed, or a comma missing inside it",
        f"close it, and {_QUOTE}",
    ),
    (
        "expected <block end>",
        "a line that does not fit the lines above it",
        "let the keys of one section begin in the same column, and close each quote",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A parsed text.

    Attributes
    ----------
    value : dict, list, str, int, float, bool or None. What is mistaken is left out.
    lines : the line, from 1, of each key and list item.
    mistakes : everything found wrong.
    """

    value: object
    lines: Mapping[KeyPath, int]
    mistakes: tuple[Mistake, ...]


def parse(text: str) -> Document:
    """Parse one YAML document. Never raises: what is wrong is in `mistakes`."""
    try:
        loader = _Loader(text)
        try:
            node = loader.get_single_node()
        finally:
            loader.dispose()
    except yaml.reader.ReaderError as error:
        mistake = Mistake(
            line=text.count("\n", 0, error.position) + 1,
            found=f"character {chr(int(error.character))!r}, which is not text",
            remedy="save the file as plain text in UTF-8",
        )
        return Document(value=None, lines={}, mistakes=(mistake,))
    except yaml.MarkedYAMLError as error:
        return Document(value=None, lines={}, mistakes=(_syntax_mistake(error, text),))
    if node is None:
        return Document(value=None, lines={}, mistakes=())
    builder = _Builder()
    value = builder.value(node, ())
    return Document(
        value=None if value is _BAD else value,
        lines=builder.lines,
        mistakes=tuple(builder.mistakes),
    )


def plain_scalar(text: str) -> str | int | float | bool | None:
    """Return what an unquoted scalar means.

    Raises
    ------
    ValueError
        with (found, remedy), where readers of YAML do not agree on its meaning.
    """
    if text in _WORDS:
        return _WORDS[text]
    for pattern, why, remedy in _TRAPS:
        if pattern.fullmatch(text):
            raise ValueError(f"{text} {why}", remedy)
    if not _NUMBER.fullmatch(text):
        return text
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise ValueError(f"{text[:40]} is larger than any number here", _QUOTE)
    return int(text) if _WHOLE.fullmatch(text) else number


def dump(value: object) -> str:
    """Return YAML that `parse` reads back as the same value."""
    text: str = yaml.dump(value, Dumper=_Dumper, sort_keys=False, allow_unicode=True)
    return text


class _RefusedError(yaml.MarkedYAMLError):
    """A part of YAML that these files do not use."""


class _Loader(yaml.SafeLoader):
    """Composes nodes; refuses aliases, anchors, tags and deep nesting."""

    depth = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        event: Any = self.peek_event()  # type: ignore[no-untyped-call]
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            raise _RefusedError(problem=_ALIAS, problem_mark=event.start_mark, note=_WRITE_OUT)
        if event.tag is not None:
            raise _RefusedError(
                problem=f"a tag ({event.tag})",
                problem_mark=event.start_mark,
                note=f"leave the tag out, or {_QUOTE}",
            )
        if self.depth > DEEPEST:
            raise _RefusedError(
                problem=f"more than {DEEPEST} levels of nesting", problem_mark=event.start_mark
            )
        self.depth += 1
        try:
            return super().compose_node(parent, index)
        finally:
            self.depth -= 1


class _Builder:
    """Turns nodes into plain values, and gathers lines and mistakes on the way."""

    def __init__(self) -> None:
        self.lines: dict[KeyPath, int] = {}
        self.mistakes: list[Mistake] = []

    def value(self, node: yaml.Node, path: KeyPath) -> object:
        self.lines.setdefault(path, node.start_mark.line + 1)
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, path)
        if isinstance(node, yaml.SequenceNode):
            items = [self.value(item, (*path, i)) for i, item in enumerate(node.value)]
            return _BAD if any(item is _BAD for item in items) else items
        if _is_quoted(node):
            return node.value
        try:
            return plain_scalar(node.value)
        except ValueError as error:
            found, remedy = error.args
            self._refuse(path, node, found, remedy)
            return _BAD

    def _mapping(self, node: yaml.MappingNode, path: KeyPath) -> dict[str, object]:
        values: dict[str, object] = {}
        first: dict[str, yaml.Node] = {}
        for key_node, value_node in node.value:
            key = key_node.value
            if not isinstance(key, str) or not key:
                self._refuse(path, key_node, "a key that is not a word", "name the key")
                continue
            here = (*path, key)
            if key in first:
                found = f"given twice: {_spot(first[key])} and {_spot(key_node)}"
                self._refuse(here, key_node, found, "keep one of the two")
                continue
            first[key] = key_node
            self.lines[here] = key_node.start_mark.line + 1
            value = self.value(value_node, here)
            if value is not _BAD:
                values[key] = value
        return values

    def _refuse(self, path: KeyPath, node: yaml.Node, found: str, remedy: str) -> None:
        line = node.start_mark.line + 1
        self.mistakes.append(Mistake(path=path, line=line, found=found, remedy=remedy))


class _Dumper(yaml.SafeDumper):
    """Quotes every text that `parse` would take for something else."""

    def ignore_aliases(self, data: object) -> bool:
        return True


def _represent_text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    try:
        plain = text.isprintable() and plain_scalar(text) == text
    except ValueError:
        plain = False
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=None if plain else '"')


_Dumper.add_representer(str, _represent_text)


def _is_quoted(node: yaml.Node) -> bool:
    return isinstance(node, yaml.ScalarNode) and node.style is not None


def _spot(node: yaml.Node) -> str:
    return f"line {node.start_mark.line + 1} column {node.start_mark.column + 1}"


def _syntax_mistake(error: yaml.MarkedYAMLError, text: str) -> Mistake:
    """Say in words what PyYAML could not read."""
    mark = error.problem_mark or error.context_mark
    problem = error.problem or error.context or "unreadable"
    line = 1 if mark is None else mark.line + 1
    if isinstance(error, _RefusedError):
        return Mistake(line=line, found=problem, remedy=error.note or "")
    if mark is not None and text[mark.index : mark.index + 1] == "\t":
        return Mistake(line=line, found="a tab", remedy="indent and separate with spaces")
    at_end = mark is not None and not text[mark.index :].strip()
    if at_end and error.context_mark is not None and "scalar" in (error.context or ""):
        line = error.context_mark.line + 1
        return Mistake(line=line, found="a quote that is never closed", remedy="close the quote")
    if at_end and error.context_mark is not None and "flow" in (error.context or ""):
        line = error.context_mark.line + 1
        return Mistake(line=line, found="a bracket that is never closed", remedy="close it")
    if error.context_mark is not None and "flow" in (error.context or ""):
        line = error.context_mark.line + 1
    for theirs, found, remedy in _SYNTAX:
        if theirs in problem:
            return Mistake(line=line, found=found, remedy=remedy)
    return Mistake(line=line, found=problem, remedy=_QUOTE)
