"""The journal: every record on the disk, read up to where the power went, never written over."""

import errno
import json
import os
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from bag_records import AT, RECORD
from hypothesis import given
from hypothesis import strategies as st

from viscount.errors import SourceError
from viscount.packing.paired import Paired
from viscount.packing.record import BagRecord, Result, record_as_dict, record_from
from viscount.session.journal import (
    Journal,
    JournalInUseError,
    JournalLostError,
    Past,
    read_journal,
)


def bag(number: int, result: Result = Result.GOOD, **more: object) -> BagRecord:
    return replace(RECORD, bag=number, result=result, **more)  # type: ignore[arg-type]


def written(path: Path, *records: BagRecord) -> None:
    with Journal(path) as journal:
        for one in records:
            journal.write(one, AT)


def test_what_was_written_is_read_and_gone_on_from(tmp_path: Path) -> None:
    path = tmp_path / "bags.jsonl"
    assert read_journal(path) == Past()
    written(path, bag(1), bag(2, Result.SHORT, in_bag=4))
    written(path, bag(2, pours=2), bag(3, Result.UNSURE, in_bag=None, held=None))
    past = read_journal(path)
    assert [one.bag for one in past.records] == [1, 2, 2, 3]
    assert (past.packed, past.next_bag, past.part) == (2, 4, "Schraube M4×12")
    assert not past.half_line
    line = json.loads(path.read_text(encoding="utf-8").splitlines()[0])
    assert line["at"] == "2026-03-01T12:00:00.000+00:00"
    assert line["schema"] == "viscount.pack/1"


def test_a_power_cut_at_any_byte_loses_the_last_line_alone(tmp_path: Path) -> None:
    path = tmp_path / "bags.jsonl"
    written(path, bag(1), bag(2))
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    for cut in range(first, len(whole)):
        path.write_bytes(whole[:cut])
        past = read_journal(path)
        assert [one.bag for one in past.records] == [1]
        assert past.half_line is (cut > first)
        written(path, bag(2, Result.OVER, in_bag=7))
        # What was there is still there, byte for byte, and what came after is read.
        assert path.read_bytes().startswith(whole[:cut])
        again = read_journal(path)
        assert [one.result for one in again.records] == [Result.GOOD, Result.OVER]


def test_each_record_is_synced_before_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bags.jsonl"
    sizes: list[int] = []
    sync = os.fsync

    def noted(handle: int) -> None:
        sizes.append(path.stat().st_size)
        sync(handle)

    with Journal(path) as journal:
        monkeypatch.setattr(os, "fsync", noted)
        journal.write(RECORD, AT)
        assert sizes == [path.stat().st_size]
        journal.write(bag(2), AT)
        assert sizes[-1] == path.stat().st_size


def test_a_new_journal_s_name_is_synced_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a power cut could take the whole new file, and every line with it."""
    synced: list[bool] = []
    sync = os.fsync

    def noted(handle: int) -> None:
        synced.append(stat.S_ISDIR(os.fstat(handle).st_mode))
        sync(handle)

    monkeypatch.setattr(os, "fsync", noted)
    for folders in (1, 1):
        with Journal(tmp_path / "bags.jsonl") as journal:
            journal.write(RECORD, AT)
        assert synced.count(True) == folders


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with Journal(tmp_path / "bags.jsonl") as journal:
        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(JournalLostError, match="No space left") as caught:
            journal.write(RECORD, AT)
    assert "set the bag under the outlet aside" in caught.value.remedy


@pytest.mark.parametrize(
    "line",
    [
        b"dear diary\n",
        b"[1, 2]\n",
        b'{"schema": "viscount.tally/1", "kind": "bag"}\n',
        json.dumps(record_as_dict(RECORD) | {"bag": "1"}).encode() + b"\n",
    ],
)
def test_another_file_is_refused_with_its_line(tmp_path: Path, line: bytes) -> None:
    path = tmp_path / "bags.jsonl"
    written(path, RECORD)
    before = path.read_bytes() + line
    path.write_bytes(before)
    with pytest.raises(SourceError, match="no bag's record") as caught:
        read_journal(path)
    assert caught.value.where == f"{path}:2"
    assert path.read_bytes() == before


RECORDS = st.builds(
    BagRecord,
    bag=st.integers(0, 10**6),
    pours=st.integers(1, 9),
    result=st.sampled_from(Result),
    wanted=st.integers(1, 10**4),
    in_bag=st.none() | st.integers(0, 10**4),
    held=st.none() | st.integers(0, 20),
    beam=st.integers(0, 10**4),
    camera=st.integers(-5, 10**4),
    reasons=st.lists(st.text(max_size=20), max_size=3).map(tuple),
    part=st.text(max_size=20),
    by_hand=st.none() | st.integers(0, 10**4),
    paired=st.none()
    | st.builds(
        Paired,
        agreed=st.integers(0, 99),
        merged_pulses=st.integers(0, 9),
        split_pulses=st.integers(0, 9),
        camera_only=st.integers(0, 9),
        beam_only=st.integers(0, 9),
        ambiguous=st.integers(0, 9),
    ),
)


@given(record=RECORDS)
def test_a_record_comes_back_from_its_line(record: BagRecord) -> None:
    assert record_from(json.loads(json.dumps(record_as_dict(record)))) == record


def test_a_second_run_is_refused_and_told_who_has_it(tmp_path: Path) -> None:
    path = tmp_path / "bags.jsonl"
    with Journal(path) as journal:
        with pytest.raises(JournalInUseError) as caught:
            Journal(path)
        assert f"in use by process {os.getpid()} on " in caught.value.found
        assert ", since 20" in caught.value.found
        # Whoever was refused took nothing away.
        with pytest.raises(JournalInUseError):
            Journal(path)
        journal.write(RECORD, AT)
        # It can be read all the while, and another journal can be had.
        assert read_journal(path).packed == 1
        Journal(tmp_path / "others.jsonl").close()
    with Journal(path) as journal:
        assert journal.past.packed == 1
    assert sorted(one.name for one in tmp_path.iterdir()) == ["bags.jsonl", "others.jsonl"]


def test_the_same_file_by_another_name_is_the_same_journal(tmp_path: Path) -> None:
    path = tmp_path / "bags.jsonl"
    (tmp_path / "link.jsonl").symlink_to(path)
    with Journal(path), pytest.raises(JournalInUseError, match="in use by another run"):
        Journal(tmp_path / "link.jsonl")


HOLDS = """
import sys
from pathlib import Path
from viscount.session.journal import Journal
journal = Journal(Path(sys.argv[1]))
print("has it", flush=True)
sys.stdin.read()
"""


def test_a_run_that_was_killed_leaves_no_lock(tmp_path: Path) -> None:
    path = tmp_path / "bags.jsonl"
    words = [sys.executable, "-c", HOLDS, str(path)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"has it\n"
        with pytest.raises(JournalInUseError, match=f"process {process.pid} on"):
            Journal(path)
        process.kill()
        process.wait()
    assert (tmp_path / "bags.jsonl.holder").exists()
    written(path, RECORD)
    assert read_journal(path).packed == 1


def test_a_disk_that_knows_no_locks_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unknown(handle: int, how: int) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("fcntl.flock", unknown)
    with pytest.raises(JournalLostError, match="No locks available"):
        Journal(tmp_path / "bags.jsonl")
