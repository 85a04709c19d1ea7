"""The clip of a pour as a file: stored as the scene says, and damaged where it says so.

What comes of damage differs from codec to codec. H.264 goes on with wrong pictures up to the
next key frame, and its decoder nearly always says so. A damaged JPEG picture is refused and
missing. Of FFV1 the slices whose checksum fails are taken from the picture before, and FFmpeg
tells nobody but its own log: such a clip seems whole.
"""

from collections.abc import Iterable
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from viscount.clips.writer import ClipWriter
from viscount.simulate.scene import Recording, View
from viscount.simulate.timeline import FrameTime

CRF = 18
QSCALE = 3
HEAD_BYTES = 24
"""Bytes at the start of a packet that damage leaves, so that it still looks like a picture."""

DAMAGED_SHARE = 0.5


def write_clip(
    path: Path,
    view: View,
    recording: Recording,
    pictures: Iterable[tuple[FrameTime, NDArray[np.uint8]]],
    *,
    seed: int,
) -> None:
    """Write pictures, (H, W) uint8, with their times in the file."""
    quality = recording.quality
    damaged = []
    with ClipWriter(
        path,
        view.width_px,
        view.height_px,
        codec=recording.codec,
        crf=CRF if quality is None or recording.codec != "h264" else quality,
        qscale=QSCALE if quality is None or recording.codec != "mjpeg" else min(quality, 31),
    ) as writer:
        for index, (time, pixels) in enumerate(pictures):
            writer.write(pixels, time.file_t_ns)
            if time.damaged:
                damaged.append(index)
    if damaged:
        _damage(
            path, damaged, np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(4, 2)))
        )


def _damage(path: Path, indices: list[int], rng: np.random.Generator) -> None:
    """Overwrite part of these packets with noise, where they stand in the file."""
    with av.open(str(path)) as container:
        places = [(p.pos, p.size) for p in container.demux(video=0) if p.size and p.pos is not None]
    with path.open("r+b") as file:
        for index in indices:
            place, size = places[index]
            length = max(int((size - HEAD_BYTES) * DAMAGED_SHARE), 1)
            start = place + min(HEAD_BYTES, size - 1)
            file.seek(start)
            file.write(rng.integers(0, 256, min(length, place + size - start), np.uint8).tobytes())
