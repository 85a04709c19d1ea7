"""What several rooms' tests share: the real footage, and a maker of clips in any container."""

import os
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import settings
from numpy.typing import NDArray

ClipMaker = Callable[..., Path]

# The same examples each time, however slow the machine.
settings.register_profile("viscount", deadline=None, derandomize=True)
settings.load_profile("viscount")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the windows' tests to their own run: ``pytest -p pytest-qt tests/monitor``.

    The ordinary run takes no window toolkit, and must not need one.
    """
    windows = collection_path == Path(__file__).with_name("monitor")
    return True if windows and not config.pluginmanager.has_plugin("pytest-qt") else None


@pytest.fixture(scope="session")
def footage() -> Path:
    """The folder of real clips, which are not part of the project."""
    beside = Path(__file__).parents[2] / "shared" / "footage"
    folder = Path(os.environ.get("VISCOUNT_FOOTAGE", beside))
    if not folder.is_dir():
        pytest.skip(f"no real clips: set VISCOUNT_FOOTAGE, or put them at {beside}")
    return folder


@pytest.fixture
def write_clip(tmp_path: Path) -> ClipMaker:
    """Return a function that writes grey pictures with given stamps through PyAV alone."""

    def write(
        name: str,
        pictures: Sequence[NDArray[np.uint8]],
        stamps: Sequence[int],
        *,
        time_base: Fraction = Fraction(1, 1000),
        codec: str = "ffv1",
        pix_fmt: str = "gray",
        codec_options: dict[str, str] | None = None,
        container_options: dict[str, str] | None = None,
        metadata: dict[str, str] | None = None,
    ) -> Path:
        height, width = pictures[0].shape
        with av.open(tmp_path / name, "w", options=container_options or {}) as container:
            container.metadata.update(metadata or {})
            stream = container.add_stream(codec, options=codec_options or {})
            stream.width, stream.height, stream.pix_fmt = width, height, pix_fmt
            stream.time_base = stream.codec_context.time_base = time_base
            stream.codec_context.color_range = 2
            for picture, stamp in zip(pictures, stamps, strict=True):
                frame = av.VideoFrame(width, height, pix_fmt)
                for plane, value in zip(frame.planes, (picture, 128, 128), strict=False):
                    rows = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
                    rows[: plane.height, : plane.width] = value
                frame.pts, frame.time_base, frame.color_range = stamp, time_base, 2
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
        return tmp_path / name

    return write
