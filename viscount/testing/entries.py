"""The conformance kit for what a registration hook returns."""

from typing import Any

from viscount.hooks.refusal import RefusedError, check_entry_form
from viscount.seams import Detector, Entry, Options, View
from viscount.testing.detectors import check_detector
from viscount.values import Falls


def check_detector_entry(
    entry: Entry[Detector], options: Options | None = None, **switches: Any
) -> None:
    """Assert that an entry can be registered, and that its detector holds for all four falls.

    Parameters
    ----------
    entry : as the plugin's hook returns it.
    options : of the entry's own model; by default its defaults.
    switches : as for `check_detector`, `falls` left out.

    Raises
    ------
    AssertionError
        As for `check_detector`.
    """
    try:
        check_entry_form(entry)
    except RefusedError as refused:
        raise AssertionError(str(refused)) from refused
    chosen = entry.options() if options is None else options
    for falls in Falls:
        view = View(falls=falls)
        check_detector(lambda view=view: entry.make(chosen, view), falls=falls, **switches)  # type: ignore[misc]
