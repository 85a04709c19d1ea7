"""What a key of these files is: its unit, its place among the others, and its description."""

from collections.abc import Iterator
from difflib import SequenceMatcher
from typing import Any, get_args

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

# The longest ending that fits is the unit.
_UNITS = {
    "_px_per_mm": "px/mm",
    "_mm_s2": "mm/s²",
    "_mm_s": "mm/s",
    "_px2": "px²",
    "_mm2": "mm²",
    "_px": "px",
    "_mm": "mm",
    "_us": "µs",
    "_fps": "frames/s",
    "_percent": "%",
}

ONE_OF = ("below_lip_mm", "at_px")
"""Exactly one of these two is given wherever they stand."""


class Section(BaseModel):
    """The base of every section: frozen, no unknown keys, no infinities."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def key(description: str, example: object = None) -> Any:
    """Return an optional key with its description and an example for the template."""
    return Field(default=None, description=description, examples=[example])


def contradiction(
    leaf: str, found: str, *, allowed: str, remedy: str = "correct one of them"
) -> PydanticCustomError:
    """Return the error for a value that cannot be, or does not fit its neighbours.

    `leaf` is its key in the section that is being checked; empty in a key's own check.
    """
    facts = {"leaf": leaf, "found": found, "allowed": allowed, "remedy": remedy}
    return PydanticCustomError("contradiction", "{found}", facts)


def unit_of(key_path: str) -> str | None:
    """Return the unit that a key's name states, or None: ``view.line_px`` is in px."""
    fitting = [ending for ending in _UNITS if key_path.endswith(ending)]
    return _UNITS[max(fitting, key=len)] if fitting else None


def section_of(model: type[BaseModel], name: str) -> type[BaseModel] | None:
    """Return the model of a key that is a section, None where it is a value."""
    annotation = model.model_fields[name].annotation
    for kind in (annotation, *get_args(annotation)):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
    return None


def known_paths(model: type[BaseModel]) -> Iterator[tuple[str, ...]]:
    """Yield the path of every section and every key, in the order of the model."""
    for name in model.model_fields:
        yield (name,)
        section = section_of(model, name)
        if section is not None:
            yield from ((name, *rest) for rest in known_paths(section))


def nearest(model: type[BaseModel], path: tuple[str, ...]) -> list[str]:
    """Return the known keys most like an unknown one, wherever they stand; often just one.

    The same name in another section beats a similar name in this one.
    """
    *section, leaf = path
    wanted = leaf.lower().replace("-", "_").replace(" ", "_")
    scores: dict[str, float] = {}
    for known in known_paths(model):
        score = SequenceMatcher(None, wanted, known[-1]).ratio()
        if known[-1].startswith(wanted + "_") or wanted.startswith(known[-1] + "_"):
            score = max(score, 0.8)
        bonus = 0.05 if score < 1 and list(known[:-1]) == section else 0.0
        scores[".".join(known)] = score + bonus
    best = max(scores.values(), default=0.0)
    return [known for known, score in scores.items() if score == best] if best >= 0.6 else []
