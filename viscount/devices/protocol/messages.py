"""What the lines say: one frozen value for each kind, in both directions.

Times named `t_us` are the board's own clock in µs as it stands: 32 bits, wrapping. What each
message means, and when it is sent, stands in PROTOCOL.md beside this file.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, get_type_hints

from viscount.devices.protocol.fields import (
    U16,
    U32,
    FieldRule,
    Fitted,
    Flag,
    Has,
    Name,
    OneOf,
    Whole,
)
from viscount.devices.protocol.line import Line
from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State
from viscount.errors import UsageError

VERSION = 1
"""The version of the protocol."""
RENEW_MS = 50
"""How often the host renews the lease."""
LEASE_MS = 250
"""How long after the last good renewal the coil may be on."""
TOTAL_MS = 200
"""How often at least a board sends its totals, and its switch where it is watched."""
STANDS_MS = 20
"""How long a level of the switch must stand until it is a change and no bouncing."""

Word32 = Annotated[int, Whole(0, U32)]
Word16 = Annotated[int, Whole(0, U16)]
Some16 = Annotated[int, Whole(1, U16)]
Bit = Annotated[bool, Flag()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hello:
    """The board says what it is: after each reset, and to each `Greet`."""

    KIND: ClassVar[str] = "hello"
    version: Annotated[int, Whole(1, 9)]
    name: Annotated[str, Name(10)]
    firmware: Annotated[str, Name(6)]
    tick_ns: Annotated[int, Whole(1, 999_999)]
    has: Annotated[Has, Fitted()]
    t_us: Word32
    edges: Word32
    blocked: Bit


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The board's own limits, sent after each `Hello`."""

    KIND: ClassVar[str] = "limits"
    on_ms: Some16
    duty_percent: Annotated[int, Whole(1, 100)]
    blade_ms: Some16
    queue: Some16


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeSeen:
    """The beam changed."""

    KIND: ClassVar[str] = "edge"
    seq: Word32
    t_us: Word32
    blocked: Bit


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """What the board has counted since its reset; sent when no edge waits to be sent."""

    KIND: ClassVar[str] = "total"
    t_us: Word32
    edges: Word32
    pulses: Word32
    lost: Word32
    blocked: Bit


@dataclass(frozen=True, slots=True, kw_only=True)
class StateTold:
    """What the board is doing, in answer to `Tell`."""

    KIND: ClassVar[str] = "state"
    t_us: Word32
    state: Annotated[State, OneOf(State)]
    coil: Bit
    wanted: Word16
    count: Word16
    lease_ms: Annotated[int, Whole(0, LEASE_MS)]
    fault: Annotated[FaultReason, OneOf(FaultReason)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ok:
    """The host's line with number `line` was done."""

    KIND: ClassVar[str] = "ok"
    line: Word16
    t_us: Word32


@dataclass(frozen=True, slots=True, kw_only=True)
class No:
    """The host's line with number `line` was refused."""

    KIND: ClassVar[str] = "no"
    line: Word16
    t_us: Word32
    reason: Annotated[Refusal, OneOf(Refusal)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The coil was switched on."""

    KIND: ClassVar[str] = "opened"
    t_us: Word32


@dataclass(frozen=True, slots=True, kw_only=True)
class Over:
    """A readiness is over: from this time on the coil is off."""

    KIND: ClassVar[str] = "over"
    t_us: Word32
    cause: Annotated[Cause, OneOf(Cause)]
    count: Word16


@dataclass(frozen=True, slots=True, kw_only=True)
class BladeMoved:
    """The shut sensor changed."""

    KIND: ClassVar[str] = "blade"
    t_us: Word32
    shut: Bit


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTold:
    """The board met a fault."""

    KIND: ClassVar[str] = "fault"
    t_us: Word32
    reason: Annotated[FaultReason, OneOf(FaultReason)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchTold:
    """The press switch, as it is since `t_us`; sent only where `Watch` asked for it.

    Attributes
    ----------
    seq : changes of the switch in this boot, those that the board took for bouncing left out.
    pressed : somebody presses it.
    """

    KIND: ClassVar[str] = "switch"
    seq: Word32
    t_us: Word32
    pressed: Bit


@dataclass(frozen=True, slots=True, kw_only=True)
class Greet:
    """The host begins, or begins again: its numbering starts with this line."""

    KIND: ClassVar[str] = "greet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """Count from here on, and shut after so many.

    Attributes
    ----------
    count : N, how many parts are wanted.
    early : k: the head edge of part N - k is the one that triggers. Below `count`.
    delay_us : from that edge to the command.
    on_ms : the longest time that the coil may be on.
    expiry_ms : the readiness lapses so long after it began unless `Open` came.
    """

    KIND: ClassVar[str] = "ready"
    count: Some16
    early: Word16
    delay_us: Annotated[int, Whole(0, 999_999)]
    on_ms: Some16
    expiry_ms: Some16


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """Switch the coil on."""

    KIND: ClassVar[str] = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shut:
    """Switch the coil off and end the readiness; a fault is taken note of."""

    KIND: ClassVar[str] = "shut"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Say what you are doing."""

    KIND: ClassVar[str] = "tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Renew:
    """The host is there: the lease runs anew."""

    KIND: ClassVar[str] = "renew"


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Tell of the press switch from now on, until the next `Greet`."""

    KIND: ClassVar[str] = "watch"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """Set the lamp, in thousandths of its full current."""

    KIND: ClassVar[str] = "lamp"
    permille: Annotated[int, Whole(0, 1000)]


BoardMessage = (
    Hello
    | Limits
    | EdgeSeen
    | Total
    | StateTold
    | Ok
    | No
    | Opened
    | Over
    | BladeMoved
    | FaultTold
    | SwitchTold
)
HostMessage = Greet | Ready | Open | Shut | Tell | Renew | Lamp | Watch
Message = BoardMessage | HostMessage

FROM_BOARD: tuple[type[BoardMessage], ...] = (
    Hello,
    Limits,
    EdgeSeen,
    Total,
    StateTold,
    Ok,
    No,
    Opened,
    Over,
    BladeMoved,
    FaultTold,
    SwitchTold,
)
FROM_HOST: tuple[type[HostMessage], ...] = (Greet, Ready, Open, Shut, Tell, Renew, Lamp, Watch)
_KINDS: dict[str, type[Message]] = {one.KIND: one for one in (*FROM_BOARD, *FROM_HOST)}


def _rules_of(kind: type[Message]) -> Mapping[str, FieldRule]:
    hints = get_type_hints(kind, include_extras=True)
    return MappingProxyType({one.name: hints[one.name].__metadata__[0] for one in fields(kind)})


_RULES = {kind: _rules_of(kind) for kind in _KINDS.values()}


def rules(kind: type[Message]) -> Mapping[str, FieldRule]:
    """Return the fields of a kind of message in the order in which they stand in its line."""
    return _RULES[kind]


def to_line(message: Message, *, number: int, boot: int) -> Line:
    """Return a message as a line.

    Raises
    ------
    UsageError : a value is not one that its field may have.
    """
    written = []
    for name, rule in rules(type(message)).items():
        value = getattr(message, name)
        text = rule.write(value)
        if text is None:
            raise UsageError(f"{value!r}", where=f"{message.KIND}: {name}", allowed=rule.allowed())
        written.append(text)
    if not _fits_together(message):
        raise UsageError(
            f"{message}", where=f"{message.KIND}: early", allowed="fewer than the parts wanted"
        )
    return Line(number=number, boot=boot, kind=message.KIND, fields=tuple(written))


def known_kind(kind: str) -> bool:
    """Return whether the protocol has lines of this kind."""
    return kind in _KINDS


def from_line(line: Line) -> Message | None:
    """Return what a line says, or None where its kind is unknown or its fields do not fit."""
    made = _KINDS.get(line.kind)
    if made is None:
        return None
    ruled_by = rules(made)
    if len(line.fields) != len(ruled_by):
        return None
    values: dict[str, Any] = {}
    for (name, rule), text in zip(ruled_by.items(), line.fields, strict=True):
        values[name] = rule.read(text)
        if values[name] is None:
            return None
    message: Message = made(**values)
    return message if _fits_together(message) else None


def _fits_together(message: Message) -> bool:
    """Whether values that may each stand alone may stand together."""
    return not isinstance(message, Ready) or message.early < message.count
