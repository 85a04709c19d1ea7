"""How often each counter errs, before a pour says more; check pours give better ones."""

from dataclasses import dataclass, replace

from viscount.agreement.result import Result
from viscount.codes import Code

BEAM_PARTS, CAMERA_PARTS = 50, 500
"""What is assumed of a counter counts as much as so many parts seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorRates:
    """Chances for each part, beside what a passage's own doubt says.

    Attributes
    ----------
    camera_missed : the camera misses a part in plain view; learned like `beam_missed`.
    camera_false : a passage of which the camera is sure was no part.
    camera_merged : a passage of which the camera is sure was one part more.
    beam_missed : a part in plain way gives no pulse; learned from what is paired, from this on.
    beam_false : a pulse for each part that no part made.

    The defaults are those of a camera that has been judged on thousands of pours and a beam that
    nobody has judged.
    """

    camera_missed: float = 1e-3
    camera_false: float = 1e-4
    camera_merged: float = 3e-4
    beam_missed: float = 0.02
    beam_false: float = 1e-3

    def after(self, camera_missed: int, beam_missed: int, parts: int) -> "ErrorRates":
        """Return the rates after parts of which each counter missed so many.

        The means of beta distributions that began as so many parts (any text on Bayes).
        """
        camera = (self.camera_missed * CAMERA_PARTS + camera_missed) / (CAMERA_PARTS + parts)
        beam = (self.beam_missed * BEAM_PARTS + beam_missed) / (BEAM_PARTS + parts)
        return replace(self, camera_missed=camera, beam_missed=beam)


SCEPTICAL = ErrorRates(camera_missed=1e-2, camera_false=1e-2, camera_merged=5e-3)
"""Of a camera that doubts itself nothing is quite believed that the beam does not bear out."""

IN_PLACES = frozenset({Code.PASSAGES_UNSURE, Code.FRAMES_LOST, Code.FRAMES_DAMAGED, Code.BLIND})
"""Doubts of the camera about single passages or times, which carry them themselves."""


def wholly_trusted(camera: Result) -> bool:
    """Return whether the camera doubts no more than single places, if anything."""
    return all(reason.code in IN_PLACES for reason in camera.reasons)


def rates_for(camera: Result) -> ErrorRates:
    """Return the rates to pair with, by what the camera says of itself."""
    return ErrorRates() if wholly_trusted(camera) else SCEPTICAL
