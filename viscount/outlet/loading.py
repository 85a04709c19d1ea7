"""Outlet and part files, and settings from the command line, to checked models."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from viscount.errors import OutletError
from viscount.outlet.keys import ONE_OF, section_of
from viscount.outlet.mistakes import KeyPath, Mistake, place_in_file, refusal, spoken_path
from viscount.outlet.part import Part
from viscount.outlet.settings import Outlet
from viscount.outlet.strict_yaml import dump, parse
from viscount.outlet.wording import allowed_keys, mistakes_in, spoken, unknown_key

ModelT = TypeVar("ModelT", bound=BaseModel)
Place = Callable[[Mistake], str]

LARGEST_BYTES = 256 * 1024
"""A file larger than this is not an outlet file."""


def load_outlet(path: str | Path) -> Outlet:
    """Read an outlet file.

    An empty file is an outlet of which nothing is known. A key without a value counts as not
    given.

    Raises
    ------
    OutletError
        naming every mistake in the file, each with its line and key.
    """
    return _load(path, Outlet)


def load_part(path: str | Path) -> Part:
    """Read a part file. Raises OutletError as `load_outlet` does."""
    return _load(path, Part)


def outlet_with(outlet: Outlet, settings: Sequence[str]) -> tuple[Outlet, dict[str, object]]:
    """Return the outlet with settings such as ``view.line_px=180`` over its own.

    Values are read as in a file; ``null`` takes a setting back. Giving one of `below_lip_mm`
    and `at_px` replaces the other.

    Returns
    -------
    outlet : the new outlet; the one handed in is left as it is.
    given : each key that was set, as ``view.line_px``, with its value.

    Raises
    ------
    OutletError
        naming every setting that cannot be used.
    """
    data: dict[str, object] = outlet.model_dump(exclude_unset=True)
    given: dict[str, object] = {}
    texts: dict[KeyPath, str] = {}

    def place(mistake: Mistake) -> str:
        near = [text for path, text in texts.items() if _overlap(path, mistake.path)]
        return f"--set {near[-1]}" if near else "--set"

    mistakes: list[Mistake] = []
    for text in settings:
        path, value, wrong = _setting(text)
        if path in texts:
            wrong = [Mistake(path=path, found="given twice", remedy="give it once")]
        texts.setdefault(path, text)
        mistakes += wrong
        if not wrong:
            given[spoken_path(path)] = value
            _put(data, path, value)
    for path in texts:
        _drop_the_other(data, path, texts)
    if mistakes:
        raise refusal(mistakes, place)
    return _checked(Outlet, data, place), given


def given_keys(model: BaseModel) -> tuple[str, ...]:
    """Return the keys that were given, as ``view.line_px``, in the order of the model."""
    keys: list[str] = []
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name not in model.model_fields_set or value is None:
            continue
        if isinstance(value, BaseModel):
            keys += [f"{name}.{inner}" for inner in given_keys(value)]
        else:
            keys.append(name)
    return tuple(keys)


def as_yaml(model: Outlet | Part) -> str:
    """Return the text of a file that loads as an equal model; only what is given is in it."""
    data = model.model_dump(mode="json", exclude_unset=True)
    return dump(_without_nulls(data, type(model)))


def _load(path: str | Path, model: type[ModelT]) -> ModelT:
    place = place_in_file(str(path))
    document = parse(_text(path))
    data: object = {} if document.value is None else document.value
    if document.mistakes and not document.lines:
        raise refusal(document.mistakes, place)
    if not isinstance(data, dict):
        remedy = "put a space after the colon" if ":" in str(data) else ""
        mistake = Mistake(line=1, found=spoken(data), allowed=allowed_keys(model), remedy=remedy)
        raise refusal([mistake], place)
    stray = next((key for key in data if key in Outlet.model_fields), None)
    if model is Part and stray is not None:
        mistake = Mistake(
            path=(stray,),
            line=document.lines[(stray,)],
            found="a key of an outlet file",
            allowed=allowed_keys(Part),
            remedy="give this file as the outlet file; a part file holds the keys below `part`",
        )
        raise refusal([mistake], place)
    return _checked(model, data, place, document.mistakes, document.lines)


def _checked(
    model: type[ModelT],
    data: Mapping[str, object],
    place: Place,
    known: Sequence[Mistake] = (),
    lines: Mapping[KeyPath, int] | None = None,
) -> ModelT:
    """Validate, and raise all mistakes together with those that are known already."""
    try:
        made = model.model_validate(_without_nulls(data, model))
    except ValidationError as error:
        new = [m for m in mistakes_in(error, model) if not _follows(m, known)]
        raise refusal([*known, *(_on_its_line(m, lines or {}) for m in new)], place) from None
    if known:
        raise refusal(known, place)
    return made


def _follows(mistake: Mistake, known: Sequence[Mistake]) -> bool:
    """Say whether a mistake may only be there because a mistaken value was left out."""
    within = len(mistake.path)
    return any(len(m.path) > within and m.path[:within] == mistake.path for m in known)


def _on_its_line(mistake: Mistake, lines: Mapping[KeyPath, int]) -> Mistake:
    path = mistake.path
    while path and path not in lines:
        path = path[:-1]
    return replace(mistake, line=lines.get(path))


def _without_nulls(data: Mapping[str, object], model: type[BaseModel]) -> dict[str, object]:
    """Leave out the known keys that have no value."""
    kept: dict[str, object] = {}
    for name, value in data.items():
        if name in model.model_fields:
            section = section_of(model, name)
            if value is None:
                continue
            if section is not None and isinstance(value, Mapping):
                value = _without_nulls(value, section)
        kept[name] = value
    return kept


def _text(path: str | Path) -> str:
    """Return the file's text; a byte order mark at its beginning is dropped."""
    where = str(path)
    try:
        with Path(path).open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise OutletError("there is no such file", where=where) from None
    except IsADirectoryError:
        raise OutletError("a directory, not a file", where=where) from None
    except PermissionError:
        raise OutletError("may not be read", where=where, remedy="check its permissions") from None
    except (OSError, ValueError) as error:
        raise OutletError(f"cannot be read: {error}", where=where) from None
    if len(raw) > LARGEST_BYTES:
        raise OutletError(
            f"larger than {LARGEST_BYTES // 1024} KiB", where=where, remedy="is this another file?"
        )
    remedy = "save the file as UTF-8"
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise OutletError("text in UTF-16", where=where, allowed="UTF-8", remedy=remedy)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{error.object[error.start]:02X}, which is not UTF-8"
        raise OutletError(found, where=f"{where}:{line}", allowed="UTF-8", remedy=remedy) from None


def _setting(text: str) -> tuple[KeyPath, object, list[Mistake]]:
    """Split and read one setting; return its path, its value and what is wrong with it."""
    words, equals, value_text = text.partition("=")
    path = tuple(words.strip().split("."))
    if not equals or not all(path):
        found = "no key" if equals else "no equals sign"
        return path, None, [Mistake(path=path, found=found, allowed="view.line_px=180")]
    wrong = _path_mistake(path)
    if wrong is not None:
        return path, None, [wrong]
    document = parse(value_text)
    mistakes = [replace(m, path=path, line=None) for m in document.mistakes]
    if not value_text.strip():
        mistakes = [Mistake(path=path, found="no value", remedy="null takes a setting back")]
    return path, document.value, mistakes


def _path_mistake(path: tuple[str, ...]) -> Mistake | None:
    model: type[BaseModel] = Outlet
    for depth, name in enumerate(path, start=1):
        if name not in model.model_fields:
            return unknown_key(Outlet, path[:depth])
        section = section_of(model, name)
        if section is None:
            is_open = name == "options"
            return None if is_open or depth == len(path) else unknown_key(Outlet, path)
        model = section
    return Mistake(path=path, found="a whole section", allowed=f"one of {allowed_keys(model)}")


def _put(data: dict[str, object], path: KeyPath, value: object) -> None:
    """Write a value into nested data, making sections on the way."""
    here = data
    for step in path[:-1]:
        inner = here.get(str(step))
        copy = dict(inner) if isinstance(inner, Mapping) else {}
        here[str(step)] = copy
        here = copy
    here[str(path[-1])] = value


def _drop_the_other(data: dict[str, object], path: KeyPath, texts: Mapping[KeyPath, str]) -> None:
    """Let one of a pair that was just set replace the other, unless both were set."""
    section = data.get(str(path[0]))
    if len(path) != 2 or path[1] not in ONE_OF or not isinstance(section, dict):
        return
    for name in ONE_OF:
        if name != path[1] and (path[0], name) not in texts:
            section.pop(name, None)


def _overlap(one: KeyPath, other: KeyPath) -> bool:
    shared = min(len(one), len(other))
    return one[:shared] == other[:shared]
