"""Finding and loading plugins: each alone, so that a failure has one owner and no neighbours.

pluggy's own loader stops at the first plugin that fails, and drops unmarked hooks and answers
of None without a word. Here each plugin gets a manager to itself, and what is wrong with it
becomes a `Refusal`; a run that does not use it goes on.
"""

import contextlib
import logging
import re
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import metadata
from typing import Final

import pluggy

from viscount.hooks import specs
from viscount.hooks.refusal import (
    Refusal,
    RefusedError,
    answer_of,
    check_entry_form,
    check_hooks,
    said,
)
from viscount.hooks.registry import RegisteredEntry, Registry

__all__ = ["BUILT_IN", "Refusal", "RegisteredEntry", "Registry", "load_plugins"]

BUILT_IN: Final = "built-in"
"""The origin of our own entries."""

_log = logging.getLogger("viscount.hooks")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plugin:
    """A plugin before it is loaded."""

    name: str
    origin: str
    load: Callable[[], object]


def load_plugins(entry_points: Iterable[metadata.EntryPoint] | None = None) -> Registry:
    """Load the built-ins, then every plugin, and return what they offer.

    Plugins come in order of their distributions' names, so that the same installation
    always gives the same registry. What a plugin prints while loading goes to standard
    error: standard output belongs to the command's answer.

    Parameters
    ----------
    entry_points : the plugins; by default all that are installed in group ``viscount``.
    """
    plugins = [_Plugin(name=BUILT_IN, origin=BUILT_IN, load=_load_builtins)]
    plugins += _installed() if entry_points is None else _given(entry_points)
    taken: list[RegisteredEntry] = []
    refused: list[Refusal] = []
    for plugin in plugins:
        offered: list[RegisteredEntry] = []
        try:
            with contextlib.redirect_stdout(sys.stderr):
                _load(plugin, offered)
                _check_names(offered, taken)
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            reason = str(error) if isinstance(error, RefusedError) else said(error)
            _log.info("refused %s of %s: %s", plugin.name, plugin.origin, reason)
            _log.debug("as follows", exc_info=error)
            names = tuple(str(one.entry.name) for one in offered)
            refused.append(
                Refusal(plugin=plugin.name, origin=plugin.origin, reason=reason, offered=names)
            )
        else:
            taken += offered
    return Registry(entries=tuple(taken), refused=tuple(refused))


def _load(plugin: _Plugin, offered: list[RegisteredEntry]) -> None:
    """Load one plugin and add what it offers to `offered`, also where it is refused later."""
    try:
        loaded = plugin.load()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise RefusedError(f"it cannot be imported: {said(error)}") from error
    manager = pluggy.PluginManager(specs.PROJECT)
    manager.add_hookspecs(specs)
    check_hooks(manager, loaded, specs.declared())
    try:
        manager.register(loaded, name=plugin.name)
    except pluggy.PluginValidationError as error:
        raise RefusedError(f"wrong signature: {said(error)}") from error
    for hook, kind in specs.REGISTRATION.items():
        caller: pluggy.HookCaller = getattr(manager.hook, hook)
        entries = answer_of(hook, caller, len(caller.get_hookimpls()))
        offered += [
            RegisteredEntry(kind=kind, entry=entry, plugin=plugin.name, origin=plugin.origin)
            for entry in entries
        ]
    for one in offered:
        check_entry_form(one.entry)


def _check_names(offered: list[RegisteredEntry], taken: list[RegisteredEntry]) -> None:
    owners = {(one.kind, one.entry.name): one.origin for one in taken}
    for one in offered:
        key = (one.kind, one.entry.name)
        if key in owners:
            raise RefusedError(
                f"the name '{one.entry.name}' is already that of a {one.kind} from {owners[key]}"
            )
        owners[key] = one.origin


def _load_builtins() -> object:
    from viscount.hooks import builtins

    return builtins


def _given(entry_points: Iterable[metadata.EntryPoint]) -> list[_Plugin]:
    """Return the plugins in order of distribution, then of their own names."""
    ordered = sorted(entry_points, key=lambda point: (_canonical(_name(point.dist)), point.name))
    return [
        _Plugin(name=point.name, origin=_origin(point.dist), load=point.load) for point in ordered
    ]


def _installed() -> list[_Plugin]:
    """Return the plugins of all installed distributions.

    Distribution by distribution, since one whose list of entry points is damaged would
    otherwise hide all the others. The first on the path hides others of the same name.
    """
    points: dict[str, Iterable[metadata.EntryPoint]] = {}
    broken: list[_Plugin] = []
    for distribution in metadata.distributions():
        try:
            found = distribution.entry_points.select(group=specs.PROJECT)
        except Exception as error:
            broken.append(_unreadable(distribution, error))
            continue
        if found:
            points.setdefault(_canonical(_name(distribution)), found)
    return [*_given(point for found in points.values() for point in found), *broken]


def _unreadable(distribution: metadata.Distribution, error: Exception) -> _Plugin:
    """Return a plugin that cannot be loaded, so that its owner is named like any other."""

    def load() -> object:
        raise error

    return _Plugin(name="entry_points.txt", origin=_origin(distribution), load=load)


def _origin(distribution: metadata.Distribution | None) -> str:
    version = _header(distribution, "Version")
    return f"{_name(distribution)} {version}" if version else _name(distribution)


def _name(distribution: metadata.Distribution | None) -> str:
    return _header(distribution, "Name") or "a distribution without a name"


def _header(distribution: metadata.Distribution | None, key: str) -> str | None:
    """Return one line of a distribution's metadata, or None where there is none to read."""
    try:
        return distribution.metadata[key] if distribution and key in distribution.metadata else None
    except Exception:
        return None


def _canonical(name: str) -> str:
    """Return a distribution's name as all spellings of it compare (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()
