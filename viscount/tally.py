"""The tally: a count with its doubt, as the run hands it out (schema ``viscount.tally/1``).

Field names are the keys of the JSON contract. Seconds count from the first frame's time on
the capture clock. A count never travels as a bare integer.
"""

from dataclasses import dataclass
from datetime import datetime

from viscount.codes import Code
from viscount.values import Falls, LampEvent, Pairing, Passage, Pulse, Status

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
    """What the beam alone counted, and from what.

    Attributes
    ----------
    lost_edges : known to be missing.
    log : the file of its edges; None where only a total was given.
    """

    parts: int
    pulses: int
    lost_edges: int
    status: Status
    reasons: tuple[Reason, ...]
    log: FileMark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPulse:
    """A pulse on the board's clock, and when it began on the capture clock.

    `captured_ns` counts from the first frame's time; None where the clocks could not be fitted.
    """

    pulse: Pulse
    captured_ns: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPairing:
    """A pairing with the number of its pour; times of the pairing count from the first frame."""

    pour: int
    pairing: Pairing


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
class Bag:
    """What one bag got, from one opening of the gate to its shutting.

    Where the line is above the blade, `held_before` + what came to the blade - `held_after` -
    `pinched` = `content`. Where it is below, what crossed it is the content, and nobody knows what
    lies on the blade.

    Attributes
    ----------
    number : from 1, in order of time.
    content : parts that fell into it, as counted or inferred.
    low, high : the range that holds the content with the tally's confidence.
    chance : that the content is right, 0 to 1.
    held_before : parts that lay on the blade when it opened, pinched ones among them; None where
        unknown.
    held_after : parts that came to lie on it after it shut; None where unknown.
    pinched : parts that were at the blade while it moved, so that nobody knows where they went;
        None where unknown.
    status, reasons : clean only where the fate of each part is sure.
    """

    number: int
    content: int
    low: int
    high: int
    chance: float
    held_before: int | None
    held_after: int | None
    pinched: int | None
    status: Status
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPassage:
    """A passage with its pour, and its speed in mm/s where a scale is known."""

    pour: int
    passage: Passage
    speed_mm_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """What the passages rest on, as far as another counter must know it.

    Attributes
    ----------
    falls, line_px : direction of the fall, and the counting line along it.
    scale_px_per_mm : None where unknown, or where lengths are refused.
    acceleration_px_s2 : that parts were followed with; None where nothing moved.
    head_share : distance from a part's centre to its leading end, over its length along the fall.
    view_px : how much of the fall is in view.
    quiet_s : a pour ends after this long without a part.
    """

    falls: Falls
    line_px: float
    view_px: float
    scale_px_per_mm: float | None
    acceleration_px_s2: float | None
    head_share: float
    quiet_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterCheck:
    """One counter beside a count by hand.

    Attributes
    ----------
    counted : what it came to; None where it gave no count.
    off : counted minus true; None without a count.
    rate, rate_low, rate_high : errors for each part, with the limits in which the rate lies with
        the tally's confidence; None where nothing can be said.
    """

    name: str
    counted: int | None
    off: int | None
    rate: float | None
    rate_low: float | None
    rate_high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckTally:
    """A check pour: its parts were counted by hand.

    Attributes
    ----------
    hand_count : how many there were.
    counters : each counter beside that.
    target_rate : wrong bags for each bag that are wanted at most.
    bags_needed : so many more bags in a row must come out right to show less than that.
    """

    hand_count: int
    counters: tuple[CounterCheck, ...]
    target_rate: float
    bags_needed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTally:
    """What became of the frames. `blind` lists (from_s, to_s).

    `end_s` is the last frame's time; None where it is not known.
    """

    read: int
    lost: int
    repeated: int
    damaged: int
    rate_hz: float | None
    blind: tuple[tuple[float, float], ...]
    end_s: float | None = None

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
    """The answer of a run. `count` is None when the status is invalid.

    `lamp` is when a lamp in view went on and off, counted from the first frame; None where the
    outlet file names none. `in_bag` is the sum of what is in `bags`, `held` what lies on the blade
    in the end; None where unknown.
    """

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
    set_up: SetUp | None = None
    beam: BeamTally | None = None
    agreement: AgreementTally | None = None
    pairings: tuple[CountedPairing, ...] = ()
    pulses: tuple[CountedPulse, ...] = ()
    check: CheckTally | None = None
    lamp: tuple[LampEvent, ...] | None = None
    bags: tuple[Bag, ...] = ()

    @property
    def as_expected(self) -> bool | None:
        """Whether the count is the expected one; None where that is not known for sure."""
        if self.expected is None or self.count is None or self.status is not Status.CLEAN:
            return None
        return self.count == self.expected
