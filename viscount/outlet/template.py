"""What editors and people start from: the JSON schema and a commented outlet file."""

import json
import textwrap
from typing import Any

from pydantic import BaseModel

from viscount.outlet.keys import ONE_OF, section_of
from viscount.outlet.part import Part
from viscount.outlet.settings import Outlet

_HEAD = """\
# An outlet file: the machine that parts fall from, and the camera and beam that watch it.
# Every key is optional. A line that begins with # and a key (#line_px: 180.0) is a setting
# to activate: take the # away and correct the value. Units are in the keys' names. Image
# coordinates are in px, (0, 0) the centre of the upper left pixel; "along the fall" means
# y where parts fall down or up, x where they go left or right.
"""


def json_schema(model: type[Outlet] | type[Part] = Outlet) -> dict[str, Any]:
    """Return the JSON schema (draft 2020-12) of outlet files, or of part files, for editors."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | model.model_json_schema()
    for name, node in schema["properties"].items():
        if "anyOf" not in node:  # a section of which every line is a remark is null in YAML
            schema["properties"][name] = {"anyOf": [node, {"type": "null"}]}
    return schema


def outlet_template() -> str:
    """Return a commented outlet file. It loads as it is, and with its settings activated."""
    blocks = [_HEAD]
    for name in Outlet.model_fields:
        section = section_of(Outlet, name)
        if section is not None:
            blocks.append(_block(name, section))
    return "\n".join(blocks)


def _block(name: str, section: type[BaseModel]) -> str:
    """Return one section, its settings switched off.

    The second key of a pair stays a remark, since only one of the two may be active.
    """
    pair = all(key in section.model_fields for key in ONE_OF)
    lines = [*_remark(section.__doc__ or "", indent=""), f"{name}:"]
    for key, field in section.model_fields.items():
        if section_of(section, key) is not None:
            continue  # written by the program, not by hand
        example = (field.examples or [None])[0]
        text = example if isinstance(example, str) else json.dumps(example or {})
        lines += _remark(field.description or "", indent="  ")
        lines.append(f"  # {key}: {text}" if pair and key == ONE_OF[1] else f"  #{key}: {text}")
    return "\n".join(lines) + "\n"


def _remark(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, 90, initial_indent=f"{indent}# ", subsequent_indent=f"{indent}# ")
