"""The JSON schema of ``truth.json``, made from the values themselves and what is said of them."""

import inspect
from typing import Any

from pydantic import TypeAdapter

from viscount.simulate.barrier import BoardTruth
from viscount.simulate.truth.values import (
    SCHEMA,
    BagTruth,
    FrameTruth,
    PartTruth,
    Recrossing,
    Seen,
    Separable,
    Spread,
    Truth,
)

PARTS = (BagTruth, BoardTruth, FrameTruth, PartTruth, Recrossing, Seen, Separable, Spread)

UNITS = {
    "_px_per_mm": "px/mm",
    "_px_s": "px/s",
    "_mm_s": "mm/s",
    "_ns": "ns",
    "_px": "px",
    "_sigma": "sigma of the noise",
}
"""The ends of keys and their units; a longer end stands before one that it ends with."""


def truth_schema() -> dict[str, Any]:
    """Return the JSON schema of a truth file: every key with a description, and its unit."""
    schema = TypeAdapter(Truth).json_schema(mode="serialization")
    _describe(schema, Truth)
    for kind in PARTS:
        _describe(schema["$defs"][kind.__name__], kind)
    schema["title"] = "What truly happened in a simulated pour"
    name = {"const": SCHEMA, "description": "Name and number of this schema."}
    schema["properties"] = {"schema": name} | schema["properties"]
    schema["required"] = ["schema", *schema["required"]]
    return schema


def _describe(schema: dict[str, Any], kind: type) -> None:
    """Give an object and its keys what the docstring of their class says."""
    about, _, attributes = (inspect.getdoc(kind) or "").partition("\n\nAttributes\n----------\n")
    schema["description"] = about
    said = _by_key(attributes)
    for key, own in schema["properties"].items():
        own.pop("title", None)
        own["description"] = said.get(key, "").replace("None", "null")
        unit = next((unit for end, unit in UNITS.items() if key.endswith(end)), None)
        if unit:
            own["unit"] = unit


def _by_key(attributes: str) -> dict[str, str]:
    """Return what is said of each key; a line that is not indented begins a new one, or several."""
    found: dict[str, str] = {}
    for entry in attributes.replace("\n    ", " ").splitlines():
        keys, _, text = entry.partition(" : ")
        found |= dict.fromkeys(keys.split(", "), text[:1].upper() + text[1:])
    return found
