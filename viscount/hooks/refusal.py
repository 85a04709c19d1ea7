"""Why a plugin is refused: everything that can be wrong with one, put into words."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import pluggy

from viscount.seams import API, Entry, GateEntry, Harmless, Options

_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """One plugin that was not taken.

    Attributes
    ----------
    plugin : the name of its entry point.
    origin : distribution and version.
    reason : what is wrong with it, in words.
    offered : names of its entries, as far as they became known.
    """

    plugin: str
    origin: str
    reason: str
    offered: tuple[str, ...] = ()


class RefusedError(Exception):
    """Stops the loading of one plugin; carries the reason, never leaves this room."""


def said(error: BaseException) -> str:
    """Put somebody else's exception into one line."""
    try:
        text = " ".join(str(error).split())
    except Exception:
        text = ""
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def nearest(name: str, known: Iterable[str]) -> str:
    """Return the nearest known name as an aside, or nothing where none is near."""
    near = get_close_matches(name, list(known), n=1)
    return f", nearest known is '{near[0]}'" if near else ""


def check_hooks(manager: pluggy.PluginManager, plugin: object, known: Iterable[str]) -> None:
    """Raise `RefusedError` for a hook that pluggy would drop without a word.

    Parameters
    ----------
    manager : used to tell marked functions from others.
    plugin : what the entry point names: a module, or an instance.
    known : names of the hooks that this release calls.
    """
    known = sorted(known)
    marked = 0
    for attribute in dir(plugin):
        marks = manager.parse_hookimpl_opts(plugin, attribute)
        if marks is None:
            if attribute.startswith("viscount_") and callable(getattr(plugin, attribute)):
                raise RefusedError(f"function {attribute} is not marked with @viscount.hookimpl")
            continue
        marked += 1
        hook = marks.get("specname") or attribute
        if hook not in known and not marks.get("optionalhook"):
            raise RefusedError(
                f"no hook is called {hook}{nearest(hook, known)} (known: {', '.join(known)})"
            )
        if marks.get("wrapper") or marks.get("hookwrapper"):
            raise RefusedError(f"hook {hook} is marked as a wrapper; there is nothing to wrap")
    if not marked:
        raise RefusedError("it has no function marked with @viscount.hookimpl")


def answer_of(hook: str, call: Callable[[], list[Any]], implementations: int) -> list[Entry[Any]]:
    """Call one registration hook of one plugin and return its entries.

    pluggy leaves an answer of None out of what it returns, so that the number of answers
    tells.
    """
    try:
        answers = call()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise RefusedError(f"hook {hook} raised {said(error)}") from error
    if len(answers) < implementations:
        raise RefusedError(f"hook {hook} returned None, not a list of entries")
    for answer in answers:
        if not isinstance(answer, list):
            raise RefusedError(f"hook {hook} returned a {type(answer).__name__}, not a list")
    entries = [entry for answer in answers for entry in answer]
    for entry in entries:
        if not isinstance(entry, Entry):
            raise RefusedError(
                f"hook {hook} returned a list holding a {type(entry).__name__}, "
                "not a viscount.Entry"
            )
        if hook == "viscount_gate_triggers" and not isinstance(entry, GateEntry):
            raise RefusedError(
                f"hook {hook} returned an Entry, not a viscount.GateEntry that says what its "
                "harmless position is"
            )
    return entries


def check_entry_form(entry: Entry[Any]) -> None:
    """Raise `RefusedError` for an entry that cannot be used as it stands."""
    if entry.api != API:
        raise RefusedError(
            f"it was written for plugin interface {entry.api!r}; this release speaks {API}"
        )
    name: object = entry.name
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        raise RefusedError(
            f"the name {name!r} is not of the form 'fixed-level-2': "
            "lower-case letters, digits and single hyphens, a letter first"
        )
    summary: object = entry.summary
    if not isinstance(summary, str) or len(summary.splitlines()) != 1:
        raise RefusedError(f"the summary of '{name}' is not one line of text")
    options: object = entry.options
    if not isinstance(options, type) or not issubclass(options, Options):
        raise RefusedError(f"the options of '{name}' are no subclass of viscount's Options")
    if not options.model_config.get("frozen") or options.model_config.get("extra") != "forbid":
        raise RefusedError(
            f"the options of '{name}' are no longer frozen and closed to unknown keys"
        )
    if isinstance(entry, GateEntry) and not isinstance(entry.harmless, Harmless):
        raise RefusedError(f"'{name}' does not say what its harmless position is, and by whom")
    if not callable(entry.make):
        raise RefusedError(f"the maker of '{name}' cannot be called")
