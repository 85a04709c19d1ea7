"""What a look at a recording comes to as a whole."""

from dataclasses import dataclass

from viscount.checking.figures import (
    ClockFigures,
    LightFigures,
    MotionFigures,
    PictureFigures,
    ReadoutFigures,
    SteadinessFigures,
)
from viscount.checking.finding import Finding
from viscount.tally import FileMark
from viscount.values import Level, Status

SCHEMA = "viscount.check/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A recording with its findings, the gravest first, its notes and its figures."""

    made_by: str
    source: str
    outlet: FileMark | None
    findings: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    clock: ClockFigures
    light: LightFigures
    picture: PictureFigures
    steadiness: SteadinessFigures
    motion: MotionFigures
    readout: ReadoutFigures

    @property
    def status(self) -> Status:
        """Clean without findings, invalid where one of them makes counting impossible."""
        if any(one.level is Level.INVALID for one in self.findings):
            return Status.INVALID
        return Status.DOUBTFUL if self.findings else Status.CLEAN

    @property
    def summary(self) -> str:
        """All of it in one line."""
        if not self.findings:
            return "nothing found that would spoil a count"
        what = [one.code.code.replace("_", " ") for one in self.findings]
        return ", ".join(dict.fromkeys(what))
