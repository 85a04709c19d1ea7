"""The versions that a report of a fault must name."""

import platform
import re
from importlib import metadata

from viscount._version import __version__


def version_lines() -> list[str]:
    """Return viscount's version, then Python's and those of the libraries it needs."""
    lines = [f"viscount {__version__}", f"python {platform.python_version()}"]
    return lines + [f"{name} {_version(name)}" for name in _required()]


def _required() -> list[str]:
    """Return what our own distribution asks for, extras left out."""
    try:
        asked = metadata.requires("viscount") or []
    except metadata.PackageNotFoundError:
        return []
    names = (re.match(r"[A-Za-z0-9._-]+", line) for line in asked if "extra ==" not in line)
    return [name[0] for name in names if name]


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed under this name"
