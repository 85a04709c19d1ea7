"""Luma planes of many layouts. Layouts are those of libavutil/pixfmt.h, written here by hand."""

from collections.abc import Callable
from fractions import Fraction

import av
import av.filter
import cv2
import numpy as np
import pytest
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from viscount.clips.luma import Orientation, luma

SHAPE = (37, 51)  # odd both ways, and shorter than a line in memory
SEED = 4


def grey() -> NDArray[np.uint8]:
    return np.random.default_rng(SEED).integers(0, 256, SHAPE, dtype=np.uint8)


def blank(layout: str) -> VideoFrame:
    """A frame full of noise, so that nothing is right by chance."""
    frame = av.VideoFrame(SHAPE[1], SHAPE[0], layout)
    for plane in frame.planes:
        noise = np.random.default_rng(SEED + 1).integers(0, 256, plane.buffer_size, dtype=np.uint8)
        np.frombuffer(memoryview(plane), np.uint8)[:] = noise
    return frame


def rows(frame: VideoFrame, index: int = 0) -> NDArray[np.uint8]:
    plane = frame.planes[index]
    return np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)


@pytest.mark.parametrize(
    "layout",
    ["gray", "yuv420p", "yuvj420p", "yuv422p", "yuv444p", "nv12", "nv21", "yuva420p"],
)
def test_eight_bit_planes_are_viewed_in_place(layout: str) -> None:
    frame = blank(layout)
    rows(frame)[: SHAPE[0], : SHAPE[1]] = grey()
    pixels = luma(frame)
    assert pixels.dtype == np.uint8
    assert not pixels.flags.writeable
    assert pixels.__array_interface__["data"][0] == frame.planes[0].buffer_ptr
    np.testing.assert_array_equal(pixels, grey())


def test_the_view_keeps_the_decoders_memory_alive() -> None:
    frame = blank("yuv420p")
    rows(frame)[: SHAPE[0], : SHAPE[1]] = grey()
    pixels = luma(frame)
    del frame
    others = [blank("yuv420p") for _ in range(20)]
    np.testing.assert_array_equal(pixels, grey())
    assert others


@pytest.mark.parametrize(
    ("layout", "order", "up"),
    [
        ("gray10le", "<u2", 2),
        ("gray12be", ">u2", 4),
        ("gray16le", "<u2", 8),
        ("gray16be", ">u2", 8),
        ("yuv420p10le", "<u2", 2),
        ("yuv420p10be", ">u2", 2),
        ("yuv422p12le", "<u2", 4),
        ("yuv444p16be", ">u2", 8),
        ("p010le", "<u2", 8),  # ten bits at the top of sixteen
        ("p016le", "<u2", 8),
    ],
)
def test_deeper_planes_are_shifted_down(layout: str, order: str, up: int) -> None:
    frame = blank(layout)
    words = rows(frame)[: SHAPE[0]].view(order)
    low_bits = np.arange(SHAPE[1]) % (1 << up)
    words[:, : SHAPE[1]] = (grey().astype(np.uint16) << up) | low_bits
    pixels = luma(frame)
    assert pixels.dtype == np.uint8
    np.testing.assert_array_equal(pixels, grey())


@pytest.mark.parametrize(
    ("layout", "first"), [("yuyv422", 0), ("yvyu422", 0), ("uyvy422", 1), ("ya8", 0)]
)
def test_luma_packed_with_something_else_keeps_its_values(layout: str, first: int) -> None:
    frame = blank(layout)
    width = SHAPE[1]
    rows(frame)[: SHAPE[0], first : first + 2 * width : 2] = grey()
    np.testing.assert_array_equal(luma(frame), grey())


def test_luma_packed_with_chroma_and_alpha_keeps_its_values() -> None:
    frame = blank("vuya")
    rows(frame)[: SHAPE[0], 2 : 4 * SHAPE[1] : 4] = grey()
    np.testing.assert_array_equal(luma(frame), grey())


def bgr24(frame: VideoFrame, colour: NDArray[np.uint8]) -> None:
    rows(frame)[: SHAPE[0], : 3 * SHAPE[1]] = colour.reshape(SHAPE[0], -1)


def rgb24(frame: VideoFrame, colour: NDArray[np.uint8]) -> None:
    bgr24(frame, colour[..., ::-1])


def bgra(frame: VideoFrame, colour: NDArray[np.uint8]) -> None:
    opaque = np.dstack([colour, np.full(SHAPE, 255, np.uint8)])
    rows(frame)[: SHAPE[0], : 4 * SHAPE[1]] = opaque.reshape(SHAPE[0], -1)


def gbrp(frame: VideoFrame, colour: NDArray[np.uint8]) -> None:
    for plane, channel in enumerate((1, 0, 2)):
        rows(frame, plane)[: SHAPE[0], : SHAPE[1]] = colour[..., channel]


@pytest.mark.parametrize("fill", [bgr24, rgb24, bgra, gbrp])
def test_colour_becomes_grey_like_opencvs(fill: Callable[..., None]) -> None:
    colour = np.random.default_rng(SEED).integers(0, 256, (*SHAPE, 3), dtype=np.uint8)
    frame = blank(fill.__name__)
    fill(frame, colour)
    expected = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY).astype(int)
    assert np.abs(luma(frame).astype(int) - expected).max() <= 1


def test_palette_is_looked_up() -> None:
    frame = blank("pal8")
    indices = np.random.default_rng(SEED).integers(0, 3, SHAPE, dtype=np.uint8)
    rows(frame)[: SHAPE[0], : SHAPE[1]] = indices
    # 32-bit words of alpha, red, green, blue (AV_PIX_FMT_PAL8).
    palette = np.frombuffer(memoryview(frame.planes[1]), np.uint32)
    palette[:3] = [0xFF000000, 0xFF808080, 0xFFFFFFFF]
    np.testing.assert_array_equal(luma(frame), np.array([0, 128, 255], np.uint8)[indices])


def test_one_bit_becomes_black_and_white() -> None:
    frame = blank("monob")
    bits = np.random.default_rng(SEED).integers(0, 2, SHAPE, dtype=np.uint8)
    packed = np.packbits(bits, axis=1)
    rows(frame)[: SHAPE[0], : packed.shape[1]] = packed
    np.testing.assert_array_equal(luma(frame), bits * 255)


@pytest.mark.parametrize("layout", ["gray", "yuv420p", "yuv422p"])
def test_lines_stored_from_the_bottom_up(layout: str) -> None:
    frame = blank(layout)
    rows(frame)[: SHAPE[0], : SHAPE[1]] = grey()
    frame.pts = 0
    graph = av.filter.Graph()
    source = graph.add_buffer(
        width=SHAPE[1], height=SHAPE[0], format=layout, time_base=Fraction(1, 30)
    )
    flip, sink = graph.add("vflip"), graph.add("buffersink")
    source.link_to(flip)
    flip.link_to(sink)
    graph.configure()
    source.push(frame)
    flipped = sink.pull()
    assert flipped.planes[0].line_size < 0
    np.testing.assert_array_equal(luma(flipped), grey()[::-1])


def test_orientation_is_a_view() -> None:
    pixels = grey()
    turned = Orientation(transposed=True, mirrored_x=True)(pixels)
    assert np.shares_memory(turned, pixels)
    np.testing.assert_array_equal(turned, np.rot90(pixels, -1))
