"""Writes a beam log, row by row, so that a kill leaves every row that was written."""

import os
from collections.abc import Iterable
from pathlib import Path

from viscount.clips.partial import partial_path
from viscount.errors import UsageError
from viscount.values import Edge

_HEADER = b"time_s,blocked,seq,boot\n"


class BeamLogWriter:
    """Writes edges as `viscount.devices.beams.log` reads them.

    The log grows beside `path`, as ``pour.partial.csv`` for ``pour.csv``, and takes its name when
    it is closed. Rows go to the system in whole lines at once: a killed process leaves a log that
    is whole up to its last row.

    Raises
    ------
    UsageError : the file cannot be created.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.partial = partial_path(path)
        self.rows = 0
        try:
            self._file = self.partial.open("wb", buffering=0)
            self._file.write(_HEADER)
        except OSError as error:
            raise UsageError(
                f"the beam log cannot be created ({error.strerror})",
                where=str(path),
                remedy="write it to a folder of your own",
            ) from error

    def write(self, edges: Iterable[Edge]) -> None:
        """Append edges; the first of all is the state as logging begins."""
        rows = [_row(edge) for edge in edges]
        if rows:
            self._file.write(b"".join(rows))
            self.rows += len(rows)

    def close(self, end_device_t_ns: int | None = None) -> bool:
        """Finish the log and give it its name; return whether there is one.

        Parameters
        ----------
        end_device_t_ns : up to when it is whole, on the board's clock; None where that is not
            known.

        A log without a row is taken away.
        """
        if self._file.closed:
            return self.rows > 0
        if self.rows and end_device_t_ns is not None:
            self._file.write(f"# end {_seconds(end_device_t_ns)}\n".encode())
        os.fsync(self._file.fileno())
        self._file.close()
        if self.rows:
            self.partial.replace(self.path)
        else:
            self.partial.unlink()
        return self.rows > 0


def _row(edge: Edge) -> bytes:
    return (
        f"{_seconds(edge.device_t_ns)},{int(edge.blocked)},{edge.seq or 0},{edge.boot or 0}\n"
    ).encode()


def _seconds(t_ns: int) -> str:
    """Return a time exactly, to the microsecond that boards tell."""
    whole, rest = divmod(t_ns // 1000, 1_000_000)
    return f"{whole}.{rest:06d}"
