"""The tally: a count with its doubt, as the run hands it out (schema ``viscount.tally/1``).

Field names are the keys of the JSON contract. Seconds count from the first frame's time on
the capture clock. A count never travels as a bare integer.
"""

from dataclasses import dataclass
from datetime import datetime

from viscount.codes import Code
from viscount.values import Passage, Status

SCHEMA = "viscount.tally/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a count is not clean."""

    code: Code
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """Something the result rests on that nobody stated, or that a command line overrode."""

    code: Code
    text: str
    value: float | str | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FileMark:
    """A file the result rests on: its name and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraTally:
    """What the camera counted; `count` with the fall, `against` back up."""

    count: int
    against: int
    status: Status
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamTally:
    """What the beam alone counted, and from what. `lost_edges` are known to be missing."""

    parts: int
    pulses: int
    lost_edges: int
    status: Status
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreementTally:
    """How camera and beam agree: numbers of pairings of each kind, and the clocks between them.

    Attributes
    ----------
    clock_offset_s : beam clock minus capture clock at the first frame; None where the beam's
        height is unknown, and then `arrival_offset_s` (pulse start minus line crossing) stands in.
    clock_drift_ppm : positive where the beam clock runs fast.
    offset_sigma_s, drift_sigma_ppm : their standard uncertainties.
    both_missed : estimate of the parts that neither saw, a lower bound; None below 200 parts.
    """

    agreed: int
    camera_only: int
    beam_only: int
    merged_pulses: int
    split_pulses: int
    ambiguous: int
    clock_offset_s: float | None
    arrival_offset_s: float | None
    offset_sigma_s: float | None
    clock_drift_ppm: float | None
    drift_sigma_ppm: float | None
    both_missed: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PourTally:
    """One uninterrupted discharge."""

    start_s: float
    end_s: float
    count: int | None
    count_low: int
    count_high: int
    status: Status
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPassage:
    """A passage with its pour, and its speed in mm/s where a scale is known."""

    pour: int
    passage: Passage
    speed_mm_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTally:
    """What became of the frames. `blind` lists (from_s, to_s)."""

    read: int
    lost: int
    repeated: int
    damaged: int
    rate_hz: float | None
    blind: tuple[tuple[float, float], ...]

    @property
    def blind_s(self) -> float:
        """Sum of the blind times."""
        return sum(end - start for start, end in self.blind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Percentiles of one measured quantity, in the unit of its key."""

    min: float
    p05: float
    p50: float
    p95: float
    max: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacingTally:
    """Spacing, interval and gap between `n` pairs of neighbours at the line."""

    n: int
    spacing_mm: Spread | None
    interval_ms: Spread | None
    gap_ms: Spread | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """The answer of a run. `count` is None when the status is invalid."""

    made_by: str
    source: str
    outlet: FileMark | None
    part: FileMark | None
    started_at: datetime | None
    count: int | None
    count_low: int
    count_high: int
    confidence: float
    expected: int | None
    counted_at: str
    in_bag: int | None
    held: int | None
    status: Status
    reasons: tuple[Reason, ...]
    assumed: tuple[Assumption, ...]
    notes: tuple[Reason, ...]
    camera: CameraTally
    pours: tuple[PourTally, ...]
    passages: tuple[CountedPassage, ...]
    frames: FrameTally
    spacing: SpacingTally | None

    @property
    def as_expected(self) -> bool | None:
        """Whether the count is the expected one; None where that is not known for sure."""
        if self.expected is None or self.count is None or self.status is not Status.CLEAN:
            return None
        return self.count == self.expected
