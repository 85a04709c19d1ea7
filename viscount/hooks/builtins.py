"""Our own detectors, registered through the same door as everybody else's."""

from viscount.hooks.specs import hookimpl
from viscount.seams import Detector, Entry


@hookimpl
def viscount_detectors() -> list[Entry[Detector]]:
    """Return the detectors that come with the package."""
    from viscount.vision.difference import DifferenceDetector, DifferenceOptions
    from viscount.vision.mixture import MixtureDetector, MixtureOptions

    return [
        Entry(
            api=1,
            name="difference",
            summary="difference from a learned background, darker or brighter; the default",
            options=DifferenceOptions,
            make=DifferenceDetector,
        ),
        Entry(
            api=1,
            name="mixture",
            summary="mixture of Gaussians for each pixel, for backgrounds that move; slower",
            options=MixtureOptions,
            make=MixtureDetector,
        ),
    ]
