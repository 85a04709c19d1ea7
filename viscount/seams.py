"""The Protocols at the joints of the house, and the typed entries that hooks return."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, Protocol, TypeVar, runtime_checkable

from pydantic import BaseModel, ConfigDict

from viscount.values import Falls, Frame, Notice, Sighting

MadeT = TypeVar("MadeT")

API = 1
"""The number of the plugin interface. A plugin that states another one is refused."""


class Options(BaseModel):
    """The base of every plugin's options: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What a detector is told of the picture it will look at.

    The frames it is given are already cut to `region_px`; the positions it answers with are
    in those frames' own pixels.
    """

    falls: Falls = Falls.DOWN


@runtime_checkable
class Detector(Protocol):
    """Finds the regions that differ from the background.

    Frames come in order. A detector never keeps a frame's pixels after the call, and never
    writes to them.
    """

    def prime(self, frames: Sequence[Frame]) -> None:
        """Look at the run's first frames before the first `see`, to learn the background.

        Parts may be among them. The same frames are handed to `see` afterwards.
        """
        ...

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return what stands out in this frame.

        With `learn=False` the background is left as it is.
        """
        ...


@runtime_checkable
class Camera(Protocol):
    """A source of frames, live or recorded. Use as a context manager.

    A live one waits in `frames` for each picture, and hands it on with the age that it has by
    then. It does not open itself again: whoever uses it closes it and makes another.

    Two attributes are optional. `recorded` is true where the frames lie ready and end: such a
    source is not opened again when it ends. `may_repeat` is true where a picture that equals the
    one before is no sign of a camera that hangs, as in clips whose coding leaves out what does
    not move; it is what `recorded` is where it is absent.
    """

    def frames(self) -> Iterator[Frame]:
        """Yield frames in order of presentation, the first at time zero.

        Their pixels stay as they are when later ones are asked for.

        Raises
        ------
        viscount.errors.SourceError : a live source is lost, or silent for too long.
        """
        ...

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the source; complete once `frames` is exhausted."""
        ...

    def close(self) -> None:
        """Let go of the source; harmless when repeated.

        May be called while another thread waits in `frames`, which then ends soon.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a camera is told beside its options.

    Attributes
    ----------
    address : which device, file, folder or network address; what it means is up to the camera.
    capture_fps : the outlet file's rate of capture in Hz, where a recording's own clock is not
        the capture's; else None.
    """

    address: str
    capture_fps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Generic[MadeT]):
    """What a registration hook returns: one named maker.

    Attributes
    ----------
    api : the plugin interface it was written for; see `API`.
    name : what the outlet file calls it; lower case, digits and hyphens.
    summary : one line for `viscount plugins`.
    options : its options model, a subclass of `Options`.
    make : called with the options and what the hook says beside them, returns the thing itself.
    """

    api: int
    name: str
    summary: str
    options: type[Options]
    make: Callable[..., MadeT]


class Keeper(StrEnum):
    """Who brings a gate's harmless position about when the host is gone."""

    BOARD = "board"
    """The board, on a lease that only a living host renews."""
    CIRCUIT = "circuit"
    """The circuit: a pull-down and a spring, with nothing that runs."""
    PROCESS = "process"
    """Only this process: once it is killed, nobody does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Harmless:
    """The position of a gate that does no harm.

    Attributes
    ----------
    position : in words, "coil off, spring shuts" for instance.
    keeper : who brings it about when the host is gone.
    """

    position: str
    keeper: Keeper


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLimits:
    """What is not asked of a gate, because whoever keeps the limits would refuse it.

    Attributes
    ----------
    on_ms : the longest time that the coil may be on.
    duty_percent : its share of the time, at most.
    sees_shut : a sensor sees the blade where it shuts the stream.
    """

    on_ms: int
    duty_percent: int
    sees_shut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """What a gate is readied for.

    Attributes
    ----------
    count : N, how many parts are wanted; 1 or more.
    early : k: the head edge of part N - k triggers. Below `count`.
    delay_us : from that edge to the command.
    on_ms : the longest time that the coil may be on for this.
    expiry_ms : it lapses where the gate was not opened in that time.
    """

    count: int
    early: int = 0
    delay_us: int = 0
    on_ms: int = 5000
    expiry_ms: int = 2000


class GateState(StrEnum):
    """What a gate is doing, as far as it is known. The coil was told to be on in `OPEN` alone."""

    UNKNOWN = "no answer"
    IDLE = "idle"
    READY = "ready"
    OPEN = "open"
    COOLING = "cooling"
    FAULT = "fault"


class Did(StrEnum):
    """What a gate did, or did not do."""

    READIED = "readied"
    OPENED = "opened"
    SHUT = "shut"
    """The coil was switched off, or a readiness lapsed: it is over."""
    SEEN_SHUT = "seen shut"
    """The sensor saw the blade shut."""
    SEEN_OPEN = "seen open"
    """The sensor no longer sees the blade shut."""
    REFUSED = "refused"
    FAULT = "fault"
    LOST = "lost"
    """Nobody answers any more, or the board restarted; it shuts the gate by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateReport:
    """One thing that a gate did.

    Attributes
    ----------
    heard_ns : when this computer knew of it, on its own clock.
    device_t_us : when it happened, on the clock that stamps the beam's edges, in µs modulo 2³²;
        None where nobody knows it on that clock.
    cause : why, in a word: "count", "asked", "lease", "limit", "expiry", "jam" and so on.
    count : parts since the readiness began, where that was told.
    """

    heard_ns: int
    did: Did
    device_t_us: int | None = None
    cause: str = ""
    count: int | None = None


@runtime_checkable
class GateTrigger(Protocol):
    """Lets out so many parts: readied, opened, and shut by whoever counts the beam.

    All times handed in are on one clock of the host, never falling. No call waits: what became of
    it is in a later answer of `tend`. Making one moves nothing.
    """

    @property
    def harmless(self) -> Harmless:
        """The position that does no harm, and who brings it about."""
        ...

    @property
    def limits(self) -> GateLimits | None:
        """The limits that are kept whatever is asked; None while they are not known."""
        ...

    @property
    def state(self) -> GateState:
        """What it is doing, as far as it is known."""
        ...

    def ready(self, now_ns: int, wanted: Readiness) -> None:
        """Have it ready for N parts. It opens on `open` only."""
        ...

    def open(self, now_ns: int) -> None:
        """Have it open, once it is ready."""
        ...

    def shut(self, now_ns: int) -> None:
        """Have it shut, whatever it was doing; in a fault that says that somebody knows of it."""
        ...

    def head(self, now_ns: int) -> None:
        """Hear that a part's head edge has come.

        For those that count in this process; where a board counts, nothing is to be done.
        """
        ...

    def tend(self, now_ns: int) -> Sequence[GateReport]:
        """Go on; return what it did since the last call. To be called every 50 ms at least.

        Where it is no longer called, the harmless position comes about.
        """
        ...

    def close(self, now_ns: int) -> None:
        """Bring the harmless position about, and let go; harmless when repeated."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """What a gate trigger is told beside its options.

    Attributes
    ----------
    line : the line to the beam's board, where there is one: see `viscount.devices.triggers.serial`.
    seed : of whatever is drawn.
    """

    line: object | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class GateEntry(Entry[GateTrigger]):
    """What the hook `viscount_gate_triggers` returns: a named maker that says what is harmless.

    `make` is called as ``make(options, fitting)``, once a run.
    """

    harmless: Harmless
