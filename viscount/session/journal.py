"""The journal of bags: one JSON object a line, on the disk before the next bag begins."""

import json
import os
import platform
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from viscount.devices.file_lock import lock_file
from viscount.errors import ExitStatus, SourceError, ViscountError
from viscount.packing.record import SCHEMA, BagRecord, Result, record_as_dict, record_from

_CONTINUED: Final = "continued"


class JournalInUseError(ViscountError):
    """Another run adds to this journal: two would give two bags one number."""


class JournalLostError(ViscountError):
    """A bag's record could not be written: nothing is poured without a journal."""

    exit_status = ExitStatus.INVALID


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What a journal says of the time before.

    Attributes
    ----------
    records : all of them, oldest first.
    half_line : it ends within a line, as after a power cut.
    """

    records: tuple[BagRecord, ...] = ()
    half_line: bool = False

    @property
    def packed(self) -> int:
        """Good bags."""
        last = {one.bag: one.result for one in self.records if one.bag}
        return sum(result is Result.GOOD for result in last.values())

    @property
    def next_bag(self) -> int:
        """The number of the first bag to come."""
        return 1 + max((one.bag for one in self.records), default=0)

    @property
    def part(self) -> str | None:
        """The part that was packed last; None where nothing was."""
        return self.records[-1].part if self.records else None


def read_journal(path: Path) -> Past:
    """Return what a journal says; nothing where it is not there.

    A line that a power cut left half is no record. It may be the last one, or be followed by the
    remark with which a later run went on.

    Raises
    ------
    SourceError : it cannot be read, or holds lines that are no journal's.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Past()
    except OSError as error:
        raise SourceError(
            f"the journal cannot be read ({error.strerror or error})", where=str(path)
        ) from error
    lines = data.split(b"\n")
    half = lines.pop()
    records: list[BagRecord] = []
    broken = 0
    for number, line in enumerate(lines, 1):
        told = _object_in(line)
        if told is not None and told.get("kind") == _CONTINUED and told.get("schema") == SCHEMA:
            # The line before it was half when it was left, whole as it may look now.
            if not broken and records:
                records.pop()
            broken = 0
            continue
        if broken:
            break
        try:
            records.append(record_from(told or {}))
        except (KeyError, TypeError, ValueError):
            broken = number
    if broken:
        raise SourceError(
            "a line that is no bag's record",
            where=f"{path}:{broken}",
            allowed=f"lines of {SCHEMA}",
            remedy="name another file: a journal is only ever added to",
        )
    return Past(records=tuple(records), half_line=bool(half))


class Journal:
    """Adds records to a journal, as the only one that does. Use as a context manager.

    The system itself keeps others out, for as long as this process lives and has it open. Who it
    is stands in a file beside it, for those who are refused; that file alone refuses nobody.

    Attributes
    ----------
    past : what it said as it was opened.

    Raises
    ------
    JournalInUseError : another run has it.
    JournalLostError : it cannot be opened or written.
    SourceError : it is no journal.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        created = not path.exists()
        try:
            self._file = path.open("ab")
        except OSError as error:
            raise self._lost(error) from error
        try:
            if not lock_file(self._file.fileno()):
                raise _in_use(path)
            self._say_who()
            self.past = read_journal(path)
            if self.past.half_line:
                self._put(b"\n")
                self._line({"schema": SCHEMA, "kind": _CONTINUED, "after": "half a line"})
            if created:
                _sync_folder(path.parent)
        except OSError as error:
            self._file.close()
            raise self._lost(error) from error
        except ViscountError:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def write(self, record: BagRecord, at: datetime) -> None:
        """Add a record; return once it is on the disk."""
        try:
            self._line(record_as_dict(record) | {"at": at.isoformat(timespec="milliseconds")})
        except OSError as error:
            raise self._lost(error) from error

    def close(self) -> None:
        """Close the file, and let others have it; harmless when repeated."""
        if not self._file.closed:
            with suppress(OSError):
                _holder_path(self._path).unlink(missing_ok=True)
        self._file.close()

    def _say_who(self) -> None:
        """Say beside the journal who has it; without that it is refused all the same."""
        with suppress(OSError):
            text = f"process {os.getpid()} on {platform.node()}\n"
            _holder_path(self._path).write_text(text, encoding="utf-8")

    def _line(self, told: Mapping[str, Any]) -> None:
        self._put(json.dumps(told, ensure_ascii=False).encode("utf-8") + b"\n")

    def _put(self, data: bytes) -> None:
        self._file.write(data)
        self._file.flush()
        os.fsync(self._file.fileno())

    def _lost(self, error: OSError) -> JournalLostError:
        return JournalLostError(
            f"the journal cannot be written ({error.strerror or error})",
            where=str(self._path),
            remedy="the gate was shut; set the bag under the outlet aside, and check the disk",
        )


def _holder_path(path: Path) -> Path:
    return path.with_name(f"{path.name}.holder")


def _in_use(path: Path) -> JournalInUseError:
    """Return the refusal, with who has the journal as far as that can be told."""
    beside = _holder_path(path)
    who = "another run"
    with suppress(OSError, ValueError):
        since = datetime.fromtimestamp(beside.stat().st_mtime, tz=UTC)
        told = beside.read_text(encoding="utf-8").strip()
        if told:
            who = f"{told}, since {since.isoformat(sep=' ', timespec='seconds')}"
    return JournalInUseError(
        f"the journal is in use by {who}",
        where=str(path),
        allowed="one run at a time",
        remedy="end that run, or name another journal",
    )


def _object_in(line: bytes) -> Mapping[str, Any] | None:
    try:
        told = json.loads(line)
    except ValueError:
        return None
    return told if isinstance(told, dict) else None


def _sync_folder(folder: Path) -> None:
    """Have the new file's name on the disk, too, where the system can do that."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
