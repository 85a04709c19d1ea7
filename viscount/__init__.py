"""Viscount counts small falling parts with a camera, beside the beam that counts them already.

The public interface is what `__all__` lists, and `viscount.testing` for authors of plugins;
everything else may change.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from viscount._version import __version__

if TYPE_CHECKING:
    from viscount.codes import Code
    from viscount.errors import ExitStatus, ViscountError
    from viscount.hooks.specs import hookimpl
    from viscount.offline import count
    from viscount.outlet import Outlet, Part, load_outlet, load_part
    from viscount.seams import (
        Aim,
        Camera,
        Detector,
        Did,
        Entry,
        Fitting,
        GateEntry,
        GateLimits,
        GateReport,
        GateState,
        GateTrigger,
        Harmless,
        Keeper,
        Options,
        Readiness,
        View,
    )
    from viscount.tally import Tally
    from viscount.values import (
        Basis,
        Blob,
        Direction,
        Falls,
        Frame,
        Level,
        Notice,
        Passage,
        Seeing,
        Sighting,
        Status,
    )

_HOMES = {
    "Aim": "seams",
    "Basis": "values",
    "Blob": "values",
    "Camera": "seams",
    "Code": "codes",
    "Detector": "seams",
    "Did": "seams",
    "Direction": "values",
    "Entry": "seams",
    "ExitStatus": "errors",
    "Falls": "values",
    "Fitting": "seams",
    "Frame": "values",
    "GateEntry": "seams",
    "GateLimits": "seams",
    "GateReport": "seams",
    "GateState": "seams",
    "GateTrigger": "seams",
    "Harmless": "seams",
    "Keeper": "seams",
    "Level": "values",
    "Notice": "values",
    "Options": "seams",
    "Outlet": "outlet",
    "Part": "outlet",
    "Passage": "values",
    "Readiness": "seams",
    "Seeing": "values",
    "Sighting": "values",
    "Status": "values",
    "Tally": "tally",
    "View": "seams",
    "ViscountError": "errors",
    "count": "offline",
    "hookimpl": "hooks.specs",
    "load_outlet": "outlet",
    "load_part": "outlet",
}

__all__ = [
    "Aim",
    "Basis",
    "Blob",
    "Camera",
    "Code",
    "Detector",
    "Did",
    "Direction",
    "Entry",
    "ExitStatus",
    "Falls",
    "Fitting",
    "Frame",
    "GateEntry",
    "GateLimits",
    "GateReport",
    "GateState",
    "GateTrigger",
    "Harmless",
    "Keeper",
    "Level",
    "Notice",
    "Options",
    "Outlet",
    "Part",
    "Passage",
    "Readiness",
    "Seeing",
    "Sighting",
    "Status",
    "Tally",
    "View",
    "ViscountError",
    "__version__",
    "count",
    "hookimpl",
    "load_outlet",
    "load_part",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for: the imports behind it are heavy."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{home}"), name)
    # Over the submodule of the same name that the import has just put there.
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted(__all__)
