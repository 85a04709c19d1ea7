"""Options from an outlet file, checked against a plugin's own model, with errors that name both."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from viscount.errors import PluginError
from viscount.hooks.refusal import nearest, said
from viscount.seams import Options


def checked_options(
    model: type[Options], given: Mapping[str, Any], *, key: str, where: str, owner: str
) -> Options:
    """Return the options as the plugin's frozen model.

    Parameters
    ----------
    model : the plugin's options.
    given : what the file says under `key`.
    key : path of the options in the file, as ``detector.options``.
    where : the file, or whatever else the options come from. May be empty.
    owner : the plugin, in words.

    Raises
    ------
    PluginError
        Naming file, key path and plugin, and for an unknown key the nearest known one.
    """
    try:
        return model.model_validate(dict(given))
    except ValidationError as error:
        raise _in_words(error, model, key=key, where=where, owner=owner) from error
    except Exception as error:
        raise PluginError(
            f"checking the options of {owner} raised {said(error)}",
            where=": ".join(filter(None, (where, key))),
            remedy="report this to the plugin's owner",
        ) from error


def _in_words(
    error: ValidationError, model: type[Options], *, key: str, where: str, owner: str
) -> PluginError:
    """Tell the first fault in full, and name the keys of the others."""
    first, *others = error.errors(include_url=False, include_context=False)
    path = _path(key, first["loc"])
    if first["type"] == "extra_forbidden":
        known = _keys(model, first["loc"][:-1])
        found = f"unknown key{nearest(str(first['loc'][-1]), known)}"
        allowed = ", ".join(known) or "no keys at all"
    elif first["type"] == "missing":
        found, allowed = "the key is missing", ""
    else:
        found, allowed = (
            f"{first['input']!r} does not fit",
            first["msg"].removeprefix("Input should be "),
        )
    if others:
        also = dict.fromkeys(_path(key, other["loc"]) for other in others)
        found += f" (also wrong: {', '.join(also)})"
    return PluginError(
        f"{found}; these are options of {owner}",
        where=": ".join(filter(None, (where, path))),
        allowed=allowed,
    )


def _path(key: str, loc: tuple[int | str, ...]) -> str:
    return ".".join([key, *map(str, loc)])


def _keys(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    """Return the keys known at this place, following models inside models."""
    for step in loc:
        field = model.model_fields.get(str(step))
        inner = field.annotation if field else None
        if not (isinstance(inner, type) and issubclass(inner, BaseModel)):
            return []
        model = inner
    return [field.alias or name for name, field in model.model_fields.items()]
