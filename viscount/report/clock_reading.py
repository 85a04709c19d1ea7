"""Reads back from a stored tally how the board's clock stands to the camera's."""

from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from viscount.codes import Code
from viscount.errors import SourceError
from viscount.gate.board_clock import BoardClock, board_clock
from viscount.report.tally_reading import validated

NotNegative = Annotated[float, Field(ge=0)]


class _Read(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)


class _Reason(_Read):
    code: Code


class _Pulse(_Read):
    epoch: int


class _Agreement(_Read):
    clock_offset_s: float | None
    clock_drift_ppm: float | None
    offset_sigma_s: NotNegative | None
    drift_sigma_ppm: NotNegative | None
    pulses: list[_Pulse]


class _Tally(_Read):
    source: str
    reasons: list[_Reason]
    agreement: _Agreement | None


def read_board_clock(path: str | Path) -> BoardClock:
    """Return the board's clock beside the recording of a stored tally.

    Raises
    ------
    SourceError : for a file that cannot be read, is no tally, is of a newer schema, or does not
        tell the clock.
    """
    read = validated(_Tally, path)
    made = read.agreement
    clock = None
    if made is not None:
        clock = board_clock(
            read.source,
            offset_s=made.clock_offset_s,
            drift_ppm=made.clock_drift_ppm,
            offset_sigma_s=made.offset_sigma_s,
            drift_sigma_ppm=made.drift_sigma_ppm,
            epochs=len({pulse.epoch for pulse in made.pulses}),
            said={reason.code for reason in read.reasons},
        )
    if clock is None:
        raise SourceError(
            "a tally that does not tell how the board's clock stands to the camera's",
            where=str(path),
            allowed="one that `viscount count --beam` made, its clocks fitted and the beam's "
            "height known",
            remedy="let the coil light a lamp in view, and name its box by --lamp-px",
        )
    return clock
