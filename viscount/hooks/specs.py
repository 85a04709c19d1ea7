"""The hooks a plugin may implement, and the two markers.

A hook is declared here only when this release calls it. To add one: write its function below,
describe it in ``plugins/README.md``, and name it in `REGISTRATION` if it returns entries.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import pluggy

if TYPE_CHECKING:
    from viscount.seams import Camera, Detector, Entry, GateEntry

PROJECT: Final = "viscount"
"""pluggy's project name, and the entry-point group that plugins are found by."""

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)
"""Marks a plugin's function as the hook of the same name."""

_MARK: Final = f"{PROJECT}_spec"

REGISTRATION: Final[Mapping[str, str]] = MappingProxyType(
    {
        "viscount_detectors": "detector",
        "viscount_cameras": "camera",
        "viscount_gate_triggers": "gate trigger",
    }
)
"""The hooks that are called once, at load, and what each of their entries makes."""


def declared() -> tuple[str, ...]:
    """Return the names of all hooks that this release calls."""
    return tuple(sorted(name for name, value in globals().items() if hasattr(value, _MARK)))


@hookspec
def viscount_detectors() -> "list[Entry[Detector]]":  # type: ignore[empty-body]
    """Return the detectors this plugin offers, as a list of `viscount.Entry`.

    Called once, when plugins are loaded. An entry's ``make`` is called as
    ``make(options, view)``, once a run, and returns a `viscount.Detector`.
    """


@hookspec
def viscount_cameras() -> "list[Entry[Camera]]":  # type: ignore[empty-body]
    """Return the live cameras this plugin offers, as a list of `viscount.Entry`.

    Called once, when plugins are loaded. An entry's ``make`` is called as
    ``make(options, aim)``, each time that the camera is opened, and returns a `viscount.Camera`.
    """


@hookspec
def viscount_gate_triggers() -> "list[GateEntry]":  # type: ignore[empty-body]
    """Return the gate triggers this plugin offers, as a list of `viscount.GateEntry`.

    Called once, when plugins are loaded. An entry's ``make`` is called as
    ``make(options, fitting)``, once a run, and returns a `viscount.GateTrigger`.
    """
