"""The name of a clip that is still being written."""

from pathlib import Path

_MARK = ".partial"


def partial_path(path: Path) -> Path:
    """Return where `path` grows until it is finished: ``pour.partial.mp4`` for ``pour.mp4``."""
    return path.with_name(f"{path.stem}{_MARK}{path.suffix}")


def is_partial(path: Path) -> bool:
    """Whether the name says that writing was never finished."""
    return Path(path.stem).suffix == _MARK
