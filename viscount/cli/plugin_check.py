"""The conformance kit over an installed detector."""

import contextlib
import sys
from collections.abc import Sequence

from viscount.errors import ExitStatus, PluginError, ViscountError
from viscount.hooks.loading import load_plugins
from viscount.outlet import Outlet, outlet_with
from viscount.seams import View
from viscount.testing import check_detector
from viscount.values import Falls


class CheckFailedError(PluginError):
    """A detector that does not do what the program relies on."""

    exit_status = ExitStatus.INVALID


def checked(
    name: str, settings: Sequence[str], *, lead_in: int, dark_parts: bool, bright_parts: bool
) -> str:
    """Check a detector; return its name with where it comes from.

    Parameters
    ----------
    name : as in an outlet file.
    settings : its options, as ``key=value``.
    lead_in, dark_parts, bright_parts : as for `viscount.testing.check_detector`.

    Raises
    ------
    PluginError : there is no such detector, or its options do not fit.
    CheckFailedError : it does not hold.
    """
    outlet, _ = outlet_with(Outlet(), [f"detector.options.{text}" for text in settings])
    options = outlet.detector.options or {}
    registry = load_plugins()
    # Whatever is wrong with name or options is told before any trial.
    registry.make_detector(name, options, View(), where="")
    owner = registry.detectors[name].owner
    with contextlib.redirect_stdout(sys.stderr):
        for falls in Falls:
            view = View(falls=falls)
            try:
                check_detector(
                    lambda view=view: registry.make_detector(name, options, view, where=""),  # type: ignore[misc]
                    falls=falls,
                    dark_parts=dark_parts,
                    bright_parts=bright_parts,
                    lead_in=lead_in,
                )
            except AssertionError as error:
                raise _failed(str(error), owner) from error
            except ViscountError:
                raise
            except Exception as error:
                broke = f"it broke (falls {falls}): {type(error).__name__}: {error}"
                raise _failed(broke, owner) from error
    return owner


def _failed(found: str, owner: str) -> CheckFailedError:
    return CheckFailedError(
        found, where=owner, remedy="if you did not write it, report this to the plugin's owner"
    )
