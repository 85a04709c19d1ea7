"""A folder of results: a command may replace what it wrote itself, and nothing else."""

import hashlib
from collections.abc import Sequence
from pathlib import Path

from viscount.errors import UsageError

SUMS = "SHA256SUMS"


class OwnFolder:
    """A folder with a list of the sums of what was written, as ``sha256sum`` reads it.

    Parameters
    ----------
    path : the folder; it need not exist.
    names : the files that the command writes.
    """

    def __init__(self, path: Path, names: Sequence[str]) -> None:
        self._path = path
        self._names = names

    def require_own(self) -> None:
        """Raise unless every file that would be replaced is as it was left.

        Raises
        ------
        UsageError
        """
        if self._path.exists() and not self._path.is_dir():
            raise UsageError("a file, not a folder", where=f"--out {self._path}")
        try:
            sums = self._sums()
            foreign = [
                name
                for name in self._names
                if (self._path / name).exists() and sums.get(name) != _sum(self._path / name)
            ]
        except (OSError, UnicodeDecodeError) as error:
            raise UsageError(f"the folder cannot be read: {error}", where=str(self._path)) from None
        if foreign:
            raise UsageError(
                f"{', '.join(foreign)} there: not as it was written",
                where=str(self._path),
                remedy="name another folder with --out, or move it away",
            )

    def seal(self) -> None:
        """Note what the files are like now."""
        there = [name for name in self._names if (self._path / name).is_file()]
        lines = [f"{_sum(self._path / name)}  {name}\n" for name in there]
        (self._path / SUMS).write_text("".join(lines), encoding="utf-8")

    def _sums(self) -> dict[str, str]:
        file = self._path / SUMS
        if not file.is_file():
            return {}
        lines = file.read_text(encoding="utf-8").splitlines()
        pairs = (line.split("  ", 1) for line in lines if "  " in line)
        return {name: digest for digest, name in pairs}


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
