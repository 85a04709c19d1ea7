"""The recording that a source stands for: itself, or some seconds of a camera."""

import contextlib
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from viscount.cli.screen import OutputError
from viscount.devices.cameras.naming import REPLAY, camera_named


@contextlib.contextmanager
def recorded(
    source: str,
    *,
    outlet: Path | None,
    settings: Sequence[str] = (),
    camera: Sequence[str] = (),
    for_s: float,
    shows_line: bool,
) -> Iterator[Path]:
    """Give a source's recording: itself, or of a camera some seconds, which are gone afterwards.

    Raises
    ------
    ViscountError : the camera could not be recorded.
    """
    if not _is_camera(source):
        yield Path(source)
        return
    from viscount.cli.live_counting import counted_live, live_plan

    with tempfile.TemporaryDirectory(prefix="viscount-") as folder:
        plan = live_plan(
            source,
            outlet=outlet,
            settings=settings,
            camera=camera,
            for_s=for_s,
            record=Path(folder) / "clip.mp4",
            lossless=True,
        )
        ended, _ = counted_live(plan, shows_line=shows_line)
        if ended.clip is None:
            raise OutputError("the camera's pictures could not be recorded", where=folder)
        yield Path(ended.clip)


def _is_camera(source: str) -> bool:
    """Whether a source is a camera, not a file or a folder that lies ready."""
    if Path(source).exists() and not source.startswith("/dev/"):
        return False
    from viscount.hooks.loading import load_plugins

    name, _ = camera_named(source, load_plugins().cameras)
    return name != REPLAY or source.startswith(f"{REPLAY}:")
