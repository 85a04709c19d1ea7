"""The JSON schema of ``truth.json``, made from the values themselves."""

from typing import Any

from pydantic import TypeAdapter

from viscount.simulate.truth.values import SCHEMA, Truth


def truth_schema() -> dict[str, Any]:
    """Return the JSON schema of a truth file."""
    schema = TypeAdapter(Truth).json_schema(mode="serialization")
    schema["title"] = "What truly happened in a simulated pour"
    schema["properties"] = {"schema": {"const": SCHEMA}} | schema["properties"]
    schema["required"] = ["schema", *schema["required"]]
    return schema
