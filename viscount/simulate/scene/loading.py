"""Scene files to checked scenes: strict YAML, every mistake named with its line and key."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from viscount.errors import SceneError
from viscount.outlet.mistakes import KeyPath, Mistake, place_in_file
from viscount.outlet.strict_yaml import parse
from viscount.simulate.scene.scene import Scene

LARGEST_BYTES = 256 * 1024


def load_scene(path: str | Path) -> Scene:
    """Read a scene file.

    Raises
    ------
    SceneError
        naming every mistake in the file, each with its line and key.
    """
    text = scene_text(path)
    document = parse(text)
    place = place_in_file(str(path))
    if document.mistakes:
        raise _refusal([(place(m), m.found, m.allowed, m.remedy) for m in document.mistakes])
    return scene_from(document.value, str(path), document.lines)


def scene_text(path: str | Path) -> str:
    """Read the text of a scene file; raises SceneError where it cannot be read."""
    where = str(path)
    try:
        with Path(path).open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
        if len(raw) > LARGEST_BYTES:
            raise SceneError(f"larger than {LARGEST_BYTES // 1024} KiB", where=where)
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SceneError("not UTF-8 text", where=where, remedy="save it as UTF-8") from None
    except FileNotFoundError:
        raise SceneError("there is no such file", where=where) from None
    except OSError as error:
        raise SceneError(f"cannot be read ({error.strerror})", where=where) from None


def scene_from(data: object, where: str, lines: Mapping[KeyPath, int] | None = None) -> Scene:
    """Check plain data as a scene; `where` and `lines` tell mistakes' places."""
    if not isinstance(data, Mapping):
        raise SceneError(
            "no keys and values",
            where=where,
            allowed=f"the keys {', '.join(Scene.model_fields)}",
        )
    try:
        return Scene.model_validate(dict(data))
    except ValidationError as error:
        place = place_in_file(where)
        found = []
        for item in error.errors(include_url=False):
            path = _path_in(data, item["loc"])
            mistake = Mistake(path=path, line=_line(path, lines or {}), found="")
            value = "" if isinstance(item["input"], Mapping) else f": {item['input']!r}"
            message = item["msg"].removeprefix("Value error, ")
            found.append((place(mistake), f"{message}{value}", "", ""))
        raise _refusal(found) from None


def _path_in(data: object, path: KeyPath) -> KeyPath:
    """Leave out the steps that are no keys of the file: the names of a choice's branches."""
    kept: list[str | int] = []
    here: Any = data
    for i, step in enumerate(path):
        if isinstance(here, Mapping) and step in here:
            here = here[step]
        elif isinstance(here, list) and isinstance(step, int):
            here = here[step] if step < len(here) else None
        elif i + 1 < len(path):
            continue
        kept.append(step)
    return tuple(kept)


def _line(path: KeyPath, lines: Mapping[KeyPath, int]) -> int | None:
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path)


def _refusal(found: list[tuple[str, str, str, str]]) -> SceneError:
    errors = [SceneError(f, where=w, allowed=a, remedy=r) for w, f, a, r in found]
    if len(errors) == 1:
        return errors[0]
    return SceneError("\n".join([f"{len(errors)} mistakes", *map(str, errors)]))
