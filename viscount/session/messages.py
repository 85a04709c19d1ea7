"""What the engine tells: values that travel to other processes."""

from dataclasses import dataclass

from viscount.errors import ViscountError
from viscount.packing.actions import Say
from viscount.packing.record import BagRecord
from viscount.packing.totals import Totals
from viscount.tally import SetUp, Tally
from viscount.values import Falls, Notice, Passage, Pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class Began:
    """The first pictures have come, and counting begins.

    Attributes
    ----------
    camera : the name of its entry.
    shape : (height, width) of the pictures.
    line_px : the counting line, along the fall.
    falls : direction of the fall.
    beam_px, blade_px : where beam and blade are along the fall, as image coordinates that may lie
        outside of the picture; None where the outlet file does not tell.
    origin_ns : the host's clock at the run's time zero.
    """

    camera: str
    shape: tuple[int, int]
    line_px: float
    falls: Falls = Falls.DOWN
    beam_px: float | None = None
    blade_px: float | None = None
    origin_ns: int = 0

    @property
    def vertical(self) -> bool:
        """Whether the fall runs along y."""
        return self.falls.vertical


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamNow:
    """How the beam line stands.

    Attributes
    ----------
    linked : the board has answered the greeting.
    pulses : interruptions begun since then, by the board's own count.
    edges, lost : edges that came, and that the board counted and never came.
    waiting : bytes that have come and were not read yet.
    """

    linked: bool
    pulses: int
    edges: int
    lost: int
    waiting: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """How the run stands now.

    Attributes
    ----------
    t_s : the last frame's time, from the first.
    count : parts through the line so far, by final passages.
    frames, dropped : frames counted, and left out because they came too fast.
    rate_hz : as measured.
    blind_s : time in which a part could have passed unseen, as far as it is known by now.
    age_ms : from when the last frame's picture was taken until it was counted.
    queued : frames that wait.
    camera : "on", or what is wrong with it.
    beam : None without a beam line.
    unrecorded : frames that the recording lacks; None where nothing is recorded.
    """

    t_s: float
    count: int
    frames: int
    dropped: int
    rate_hz: float | None
    blind_s: float
    age_ms: float
    queued: int
    camera: str
    beam: BeamNow | None
    unrecorded: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """Passages that became final.

    `set_up` is what they rest on, as far as it is known by then; None where nobody asked.
    """

    passages: tuple[Passage, ...]
    set_up: SetUp | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulsed:
    """Pulses of the beam that became final.

    Attributes
    ----------
    offset_ns : to be added to the board's time for the host's clock; the line's delay is in it.
    """

    pulses: tuple[Pulse, ...]
    offset_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Something the user must know."""

    notice: Notice


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """How long the engine took, frame by frame, in s; None before the first frame.

    `work` is what counting a frame took, `age` from when its picture was taken until it was
    counted.
    """

    work_p50_s: float | None
    work_p99_s: float | None
    work_most_s: float
    age_p50_s: float | None
    age_p99_s: float | None
    age_most_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """The run has ended with a tally.

    Attributes
    ----------
    clip, beam_log : the recordings, as far as there are any.
    """

    tally: Tally
    timing: Timing
    clip: str | None = None
    beam_log: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """The run could not go on."""

    error: ViscountError


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """How the packing stands.

    Attributes
    ----------
    says : what is new to be shown, oldest first.
    record : a bag's record, now that it is in the journal.
    phase : what the machine is at, in words. gate : what the gate is doing, in words.
    bag : number of the bag under the outlet; 0 for the check pour.
    in_bag, wanted, held : parts by the beam so far, parts wanted, parts on the blade.
    totals : of the bags so far.
    ended : nothing more will come.
    """

    says: tuple[Say, ...]
    record: BagRecord | None
    phase: str
    gate: str
    bag: int
    in_bag: int
    wanted: int
    held: int
    totals: Totals
    ended: bool


Value = Began | Snapshot | Passed | Pulsed | Told | Packing | Ended | Failed
"""What observers are told; the last is `Ended` or `Failed`."""
