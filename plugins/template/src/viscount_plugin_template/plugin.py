"""What viscount finds through the entry point: the hooks of this plugin."""

from viscount import Detector, Entry, hookimpl
from viscount_plugin_template.bright_threshold import BrightThreshold, BrightThresholdOptions


@hookimpl
def viscount_detectors() -> list[Entry[Detector]]:
    """Return this plugin's detectors."""
    return [
        Entry(
            api=1,
            name="bright-threshold",
            summary="fixed grey level; sees only parts brighter than a dark background",
            options=BrightThresholdOptions,
            make=BrightThreshold,
        )
    ]
