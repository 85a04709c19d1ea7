"""Which live camera a source on the command line stands for."""

import re
from collections.abc import Collection
from pathlib import Path

DEVICE, STREAM, FOLDER, REPLAY, SCENE = "device", "stream", "folder", "replay", "scene"
_SCENES = frozenset({".yaml", ".yml"})
_NAMED = re.compile(r"([a-z][a-z0-9]*(?:-[a-z0-9]+)*):(.*)", re.DOTALL)


def camera_named(source: str, known: Collection[str]) -> tuple[str, str]:
    """Return the camera's name and its address.

    ``NAME:ADDRESS`` says it outright. Else a number or a device file is a camera of this
    computer, what has ``://`` in it a network stream, a folder one that fills, a YAML file a
    simulated scene, and all else a recording to be replayed.

    Parameters
    ----------
    known : the names of cameras that there are.
    """
    named = _NAMED.fullmatch(source)
    if named is not None and named[1] in known and "//" not in source[: len(named[1]) + 3]:
        return named[1], named[2]
    if "://" in source:
        return STREAM, source
    if source.isdigit() or source.startswith("/dev/video"):
        return DEVICE, source
    path = Path(source)
    if path.is_dir():
        return FOLDER, source
    if path.suffix.lower() in _SCENES:
        return SCENE, source
    return REPLAY, source
