"""From a decoded picture to its luma, as a view of the decoder's own memory.

Luma is handed on as the file holds it: no range is stretched. Pictures without a luma plane
(red, green and blue, or a palette) are turned into grey after ITU-R BT.601.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from av.sidedata.sidedata import SideData
from av.video.format import VideoFormat
from av.video.frame import VideoFrame
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]

# Layouts whose luma is every second byte, and the first of them. FFmpeg's own unpacking writes
# past the end of a line in some versions when the width is odd.
_PACKED = {"yuyv422": 0, "yvyu422": 0, "uyvy422": 1, "ya8": 0}


def luma(frame: VideoFrame) -> Pixels:
    """Return the picture's luma, uint8, (H, W), read-only, as it lies in the file.

    8-bit planar video is not copied: the array is a view that keeps the decoder's buffer
    alive. Deeper video is shifted down to 8 bits.
    """
    layout = frame.format
    if _needs_grey(layout):
        return _frozen(_grey(frame))
    if layout.name in _PACKED and frame.planes[0].line_size > 0:
        first = _PACKED[layout.name]
        every_second = _plane(frame, 2)[:, first : first + 2 * frame.width : 2]
        return _frozen(np.ascontiguousarray(every_second))
    if not _has_luma_plane(layout) or frame.planes[0].line_size < 0:
        frame = _planar(frame)
        layout = frame.format
    bits = layout.components[0].bits
    if bits == 8:
        return _frozen(_plane(frame, 1)[:, : frame.width])
    words = _plane(frame, 2).view(">u2" if layout.is_big_endian else "<u2")[:, : frame.width]
    return _frozen((words >> (8 if _high_aligned(layout) else bits - 8)).astype(np.uint8))


@dataclass(frozen=True, slots=True, kw_only=True)
class Orientation:
    """How a stored picture is turned for display: first transposed, then mirrored."""

    transposed: bool = False
    mirrored_x: bool = False
    mirrored_y: bool = False

    def __call__(self, pixels: Pixels) -> Pixels:
        """Return a view of `pixels` the right way up; nothing is copied."""
        view = pixels.T if self.transposed else pixels
        return view[:: -1 if self.mirrored_y else 1, :: -1 if self.mirrored_x else 1]


def orientation(frame: VideoFrame) -> Orientation:
    """Read the picture's display matrix; pictures without one stand upright.

    The matrix maps (x, y) to (a x + c y, b x + d y), stored row by row as a, b, u, c, d, v,
    ... in 16.16 fixed point (libavutil/display.h). Angles between quarter turns are taken to
    the nearest one.
    """
    try:
        matrix = cast(SideData | None, frame.side_data.get("DISPLAYMATRIX"))
    except ValueError:  # side data of a kind that this PyAV has no name for
        return _turned(getattr(frame, "rotation", 0))
    if matrix is None:
        return Orientation()
    a, b, _, c, d = np.frombuffer(memoryview(matrix), np.int32)[:5].tolist()
    if abs(b) > abs(a):
        return Orientation(transposed=True, mirrored_x=c < 0, mirrored_y=b < 0)
    return Orientation(mirrored_x=a < 0, mirrored_y=d < 0)


def _turned(degrees: int) -> Orientation:
    """Return the orientation for an angle counted anticlockwise."""
    quarter = round(degrees / 90) % 4
    return Orientation(
        transposed=quarter in (1, 3), mirrored_x=quarter in (2, 3), mirrored_y=quarter in (1, 2)
    )


def _needs_grey(layout: VideoFormat) -> bool:
    return layout.is_rgb or layout.has_palette or layout.is_bit_stream


def _has_luma_plane(layout: VideoFormat) -> bool:
    return (layout.is_planar or len(layout.components) == 1) and layout.components[0].bits <= 16


def _high_aligned(layout: VideoFormat) -> bool:
    # P010 and its kin, and the "msb" formats, keep their bits at the top of each word.
    return layout.name.startswith(("p0", "p2", "p4")) or "msb" in layout.name


def _plane(frame: VideoFrame, bytes_per_pixel: int) -> Pixels:
    """Return plane 0 as bytes, (H, line size); a line may be longer than the picture."""
    plane = frame.planes[0]
    line = plane.line_size // bytes_per_pixel * bytes_per_pixel
    rows = np.frombuffer(memoryview(plane), np.uint8, count=plane.line_size * frame.height)
    return rows.reshape(frame.height, plane.line_size)[:, :line]


def _grey(frame: VideoFrame) -> Pixels:
    colour = frame.reformat(format="bgr24")
    line = _plane(colour, 3)[:, : colour.width * 3]
    return cv2.cvtColor(line.reshape(colour.height, colour.width, 3), cv2.COLOR_BGR2GRAY)  # type: ignore[return-value]


def _planar(frame: VideoFrame) -> VideoFrame:
    """Give luma a plane of its own. Equal ranges on both sides leave its values alone."""
    layout = frame.format
    if len(layout.components) == 1:
        target = "gray16le" if layout.components[0].bits == 8 else "gray"
    else:
        target = "yuv444p" if layout.name == "yuv422p" else "yuv422p"
    return frame.reformat(format=target, src_color_range="JPEG", dst_color_range="JPEG")


def _frozen(pixels: Pixels) -> Pixels:
    pixels.setflags(write=False)
    return pixels
