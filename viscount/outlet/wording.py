"""Puts into words what pydantic refuses: what was found, what is allowed, what to do."""

import json
import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from pydantic import BaseModel, ValidationError

from viscount.outlet.keys import nearest, unit_of
from viscount.outlet.mistakes import KeyPath, Mistake
from viscount.outlet.strict_yaml import plain_scalar

_NUMBER_WITH_UNIT = re.compile(r"([-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?)\s*([^\s0-9.].*)")
_DECIMAL_COMMA = re.compile(r"[-+]?[0-9]+,[0-9]+")
_LIMITS = {
    "exclusiveMinimum": "greater than",
    "minimum": "at least",
    "exclusiveMaximum": "less than",
    "maximum": "at most",
}


def mistakes_in(error: ValidationError, model: type[BaseModel]) -> list[Mistake]:
    """Return one mistake for each thing that pydantic found wrong, without lines."""
    mistakes: dict[KeyPath, Mistake] = {}
    for item in error.errors(include_url=False):
        path: KeyPath = item["loc"]
        facts: Mapping[str, Any] = item.get("ctx", {})
        if item["type"] == "contradiction":
            path = (*path, facts["leaf"]) if facts["leaf"] else path
            mistake = Mistake(
                path=path,
                found=facts["found"],
                allowed=facts["allowed"],
                remedy=facts["remedy"],
            )
        elif item["type"] == "extra_forbidden":
            mistake = unknown_key(model, path)
        else:
            if item["type"] == "missing":
                path = path[:-1]
                if any(known[: len(path)] == path for known in mistakes):
                    continue
            mistake = _unfit(model, path, item["input"], item["msg"])
        mistakes.setdefault(path, mistake)
    return list(mistakes.values())


def unknown_key(model: type[BaseModel], path: KeyPath) -> Mistake:
    """Return the mistake for a key that the model does not have."""
    alike = nearest(model, tuple(map(str, path)))
    remedy = f"did you mean {' or '.join(alike)}?" if alike else ""
    if str(path[-1]).isdigit():
        remedy = "write decimals with a point, and lists in [ ]"
    return Mistake(
        path=path, found="unknown key", allowed=_allowed(model, path[:-1]), remedy=remedy
    )


def spoken(value: object) -> str:
    """Return a found value in the file's own words, with its kind."""
    if isinstance(value, str):
        return f"{value[:80]!r} (text)"
    if isinstance(value, Mapping):
        return "keys and values"
    if isinstance(value, list | tuple):
        return f"the list {json.dumps(value, default=str)[:80]}"
    return json.dumps(value, default=str)[:80]


def allowed_keys(model: type[BaseModel]) -> str:
    """Return the keys of a model in words."""
    return f"the keys {', '.join(model.model_fields)}"


def _unfit(model: type[BaseModel], path: KeyPath, value: object, message: str) -> Mistake:
    key = next((step for step in reversed(path) if isinstance(step, str)), "")
    allowed = _allowed(model, path)
    return Mistake(
        path=path,
        found=spoken(value),
        allowed=allowed or message,
        remedy=_remedy(key, value, allowed),
    )


def _remedy(key: str, value: object, allowed: str) -> str:
    """Return what to do about a value of the wrong kind; empty where that is plain."""
    wants_number = allowed.startswith(("a number", "a whole number"))
    if allowed.startswith("text") and isinstance(value, bool | int | float):
        return "put it in quotes where it is text"
    if key == "acceleration_mm_s2" and isinstance(value, int | float):
        return "gravity is 9806.65 mm/s²; was it given in another unit?"
    if not isinstance(value, str):
        return ""
    if allowed.startswith("the keys") and ":" in value:
        return "put a space after the colon"
    if allowed.startswith("[") and "," in value:
        return f"write [{value.strip('()[] ')}]"
    if wants_number and _DECIMAL_COMMA.fullmatch(value):
        return f"write {value.replace(',', '.')}, with a point"
    unit = unit_of(key)
    with_unit = _NUMBER_WITH_UNIT.fullmatch(value.strip())
    if wants_number and unit and with_unit:
        number, given = with_unit.groups()
        if _same_unit(given, unit):
            return f"write {number}: the unit is in the key"
        return f"{key} is in {unit}: convert {value.strip()} and write the number alone"
    if wants_number and _reads_as_number(value):
        return f"write {value} without quotes"
    return ""


def _reads_as_number(text: str) -> bool:
    try:
        return isinstance(plain_scalar(text), int | float)
    except ValueError:
        return False


def _same_unit(given: str, unit: str) -> bool:
    def bare(text: str) -> str:
        for theirs, ours in (("²", "2"), ("^", ""), ("µ", "u"), ("μ", "u"), (" ", "")):
            text = text.replace(theirs, ours)
        return {"fps": "frames/s", "percent": "%"}.get(text.lower(), text.lower())

    return bare(given) == bare(unit)


def _allowed(model: type[BaseModel], path: KeyPath) -> str:
    """Return in words what may stand at a path; empty where the schema cannot tell."""
    schema = _schema(model)
    node = schema
    for step in path:
        node = _resolved(node, schema)
        if isinstance(step, int):
            items = node.get("prefixItems", [])
            node = items[step] if step < len(items) else node.get("items", {})
        else:
            node = node.get("properties", {}).get(step, {})
    key = next((step for step in reversed(path) if isinstance(step, str)), "")
    return _in_words(_resolved(node, schema), unit_of(key))


def _in_words(node: Mapping[str, Any], unit: str | None) -> str:
    if "enum" in node:
        *most, last = map(str, node["enum"])
        return f"{', '.join(most)} or {last}" if most else last
    if "properties" in node:
        return f"the keys {', '.join(node['properties'])}"
    if "prefixItems" in node:
        return "[x0, y0, x1, y1], whole numbers of px, none below 0"
    kind = node.get("type")
    if kind in ("number", "integer"):
        limits = [f"{word} {node[name]:.12g}" for name, word in _LIMITS.items() if name in node]
        head = "a number" if kind == "number" else "a whole number"
        return " ".join(filter(None, [head, " and ".join(limits), f"in {unit}" if unit else ""]))
    if kind == "string":
        return "text, on one line"
    return {"object": "keys and values", "boolean": "true or false"}.get(str(kind), "")


def _resolved(node: Mapping[str, Any], schema: Mapping[str, Any]) -> Mapping[str, Any]:
    """Follow a reference, and the branch of a choice that is not null.

    Older pydantic wraps a reference that has a default in ``allOf``.
    """
    branches = [b for b in node.get("anyOf", node.get("allOf", [])) if b.get("type") != "null"]
    if len(branches) == 1:
        node = branches[0]
    if "$ref" in node:
        node = schema["$defs"][node["$ref"].rsplit("/", 1)[-1]]
    return node


@cache
def _schema(model: type[BaseModel]) -> Mapping[str, Any]:
    return model.model_json_schema()
