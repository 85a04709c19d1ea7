"""Reads a stored tally as far as it can be pooled with others: who saw what, and check pours."""

import hashlib
import json
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from viscount.codes import Code
from viscount.counters.pool import StoredRun
from viscount.report.tally_reading import validated
from viscount.values import Pairing, Pairs, Status

Natural = Annotated[int, Field(ge=0)]


class _Read(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)


class _File(_Read):
    sha256: str


class _Reason(_Read):
    code: Code


class _Assumed(_Reason):
    text: str
    value: bool | int | float | str | None = None


class _Pairing(_Read):
    kind: Pairs
    passages: list[Natural]
    pulses: list[Natural]
    parts: int
    doubt: Annotated[float, Field(ge=0, le=1)]
    excused: bool

    def pairing(self) -> Pairing:
        return Pairing(
            kind=self.kind,
            passages=tuple(self.passages),
            pulses=tuple(self.pulses),
            parts=self.parts,
            doubt=self.doubt,
            excused=self.excused,
        )


class _Agreement(_Read):
    pairings: list[_Pairing]


class _Counter(_Read):
    name: str
    counted: int | None


class _Check(_Read):
    hand_count: Natural
    counters: list[_Counter]


class _Run(_Read):
    source: str
    outlet: _File | None
    part: _File | None
    count: int | None
    status: Status
    reasons: list[_Reason]
    assumed: list[_Assumed]
    passages: list[dict[str, Any]]
    beam: dict[str, Any] | None
    agreement: _Agreement | None
    check: _Check | None = None


def read_run(path: str | Path) -> StoredRun:
    """Return a stored tally as a run to be pooled.

    Raises
    ------
    SourceError : for a file that cannot be read, is no tally, or is of a newer schema.
    """
    read = validated(_Run, path)
    counters = () if read.check is None else read.check.counters
    return StoredRun(
        name=str(path),
        outlet=None if read.outlet is None else read.outlet.sha256,
        part=None if read.part is None else read.part.sha256,
        settings=tuple(sorted(_settings(read))),
        mark=_mark(read),
        count=read.count,
        status=read.status,
        reasons=frozenset(one.code for one in read.reasons),
        pairings=None
        if read.agreement is None
        else tuple(one.pairing() for one in read.agreement.pairings),
        hand_count=None if read.check is None else read.check.hand_count,
        alone=tuple((one.name, one.counted) for one in counters if one.name != "both"),
    )


def _settings(read: _Run) -> list[str]:
    made = (one for one in read.assumed if one.code is Code.SETTING_FROM_COMMAND_LINE)
    return [f"{one.text.split(' ', 1)[0]}={one.value}" for one in made]


def _mark(read: _Run) -> str:
    """Return what two files of one run have in common: passages to the nanosecond, or, where
    there are none, the recording's name; and the beam's log."""
    log = None if read.beam is None else read.beam.get("log")
    own = read.passages or read.source
    return hashlib.sha256(json.dumps([own, log], sort_keys=True).encode()).hexdigest()
