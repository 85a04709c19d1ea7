"""The line strip: the counting line of every frame, stacked into one picture.

Each part that crosses the line is one mark with its own shape, so that a person can recount by
eye. This is what a slit camera at a finish line takes, made from the frames of a common one:
each frame lends what passes the line until the next.
"""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.errors import ExitStatus, ViscountError
from viscount.motion.prior import geometry_of
from viscount.outlet import Outlet
from viscount.report.bands import LIMIT_BYTES, Bands
from viscount.report.film import Film
from viscount.report.layout import ROW_PX, laid_out
from viscount.report.marks import marks_of
from viscount.report.motion import Motion, motion_of
from viscount.report.sheet import drawn_sheet
from viscount.report.whole_file import write_whole
from viscount.tally import Tally
from viscount.values import Frame

Pixels = NDArray[np.uint8]

MOST_ROWS = 150
_PART_PX = 42.0
_TALLEST_PX = 300
_WIDEST_FRAME_PX = 6.0


class StripError(ViscountError):
    """A strip that cannot be written."""

    exit_status = ExitStatus.INVALID


class LineStrip:
    """Watches a run, and draws its line strip once the tally is known.

    Parameters
    ----------
    limit_bytes : how much memory the kept pixels may take.
    """

    def __init__(self, limit_bytes: int = LIMIT_BYTES) -> None:
        self._limit = limit_bytes
        self._outlet = Outlet()
        self._bands: Bands | None = None

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Hear what is counted."""
        self._outlet = outlet

    def frame(self, frame: Frame) -> None:
        """Copy what the frame shows about the line."""
        if self._bands is None:
            self._bands = Bands(geometry_of(self._outlet, *frame.pixels.shape), self._limit)
        self._bands.add(frame)

    def picture(self, tally: Tally) -> Pixels | None:
        """Return the strip of the run that came to `tally`, uint8 (H, W, 3) in OpenCV's order.

        None where the run had no frame.
        """
        bands = self._bands
        if bands is None or not bands.times_s.size:
            return None
        motion, marks = motion_of(tally), marks_of(tally)
        largest = _scale(motion, bands)
        rate = motion.usual_px_s or _frame_by_frame(bands) / largest
        part_s = max(motion.length_px, _PART_PX / (2 * largest)) / rate
        # A little smaller where that saves a row.
        trials = [
            (laid_out([m.t_s for m in marks], bands.span_s, rate * scale, part_s), scale)
            for scale in (largest, 0.9 * largest, 0.8 * largest)
        ]
        every, scale = min(trials, key=lambda trial: trial[0][-1].row)
        placed = [one for one in every if one.row < MOST_ROWS]
        film = Film(bands, motion, rate / bands.step)
        pictures = film.pictures(placed, scale * bands.step)
        cut = len(placed) < len(every) or not bands.whole
        ends_s = placed[-1].piece.end_s if cut else None
        return drawn_sheet(tally, placed, pictures, marks, ends_s=ends_s)

    def write(self, tally: Tally, path: Path) -> None:
        """Draw the strip into a PNG file, which appears only when it is whole.

        Raises
        ------
        StripError : there was no frame, or the file cannot be written.
        """
        picture = self.picture(tally)
        if picture is None:
            raise StripError("no frame was seen, so that there is no strip", where=str(path))
        _, encoded = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 9])
        try:
            write_whole(path, encoded.tobytes())
        except OSError as error:
            raise StripError(
                f"the strip cannot be written ({error.strerror})", where=str(path)
            ) from error


def _frame_by_frame(bands: Bands) -> float:
    """Return px of the page for each second where all there is to show is frame after frame."""
    width = np.clip(ROW_PX / bands.times_s.size, 1.0, _WIDEST_FRAME_PX)
    return float(width) / bands.interval_s


def _scale(motion: Motion, bands: Bands) -> float:
    """Return px of the page for each px of the picture, so that a part is easily seen."""
    wanted = _PART_PX / motion.length_px if motion.length_px > 0 else 1.0
    tallest = 2 * _TALLEST_PX / bands.across_px
    return float(np.clip(wanted, min(0.1, tallest), min(3.0, tallest)))
