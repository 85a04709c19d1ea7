"""What the host asked for, and what became of it."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.devices.protocol.messages import HostMessage, No, Ok
from viscount.devices.protocol.words import Refusal

MOST = 64
"""Lines that may wait for their answers; renewals for as long as a board may take are 10."""


class Outcome(StrEnum):
    """What became of a line of the host."""

    DONE = "done"
    REFUSED = "refused"
    UNANSWERED = "unanswered"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What became of a line of the host.

    Attributes
    ----------
    number : of the line, as `HostLink.ask` returned it.
    message : what it said.
    sent_ns, heard_ns : on the host's clock, when it was handed out and when that became known.
    t_us : on the board's clock, when it was done or refused; None where nothing came back.
    """

    number: int
    message: HostMessage
    outcome: Outcome
    sent_ns: int
    heard_ns: int
    t_us: int | None = None
    refusal: Refusal | None = None


class Asked:
    """The lines that wait for their answers, oldest first."""

    def __init__(self) -> None:
        self._waiting: dict[int, tuple[HostMessage, int]] = {}

    @property
    def oldest_ns(self) -> int | None:
        """When the line was sent that has waited longest."""
        return next((sent_ns for _, sent_ns in self._waiting.values()), None)

    def put(self, number: int, message: HostMessage, now_ns: int) -> list[Answer]:
        """Wait for the answer to a line; return those given up because too many wait."""
        self._waiting[number] = (message, now_ns)
        return [self._give_up(next(iter(self._waiting)), now_ns)] if self._full() else []

    def _full(self) -> bool:
        return len(self._waiting) > MOST

    def answer(self, told: Ok | No, now_ns: int) -> Answer | None:
        """Match an answer; None where nobody waits for it."""
        if told.line not in self._waiting:
            return None
        message, sent_ns = self._waiting.pop(told.line)
        refusal = told.reason if isinstance(told, No) else None
        return Answer(
            number=told.line,
            message=message,
            outcome=Outcome.REFUSED if refusal else Outcome.DONE,
            sent_ns=sent_ns,
            heard_ns=now_ns,
            t_us=told.t_us,
            refusal=refusal,
        )

    def give_up(self, now_ns: int, *, sent_until_ns: int) -> list[Answer]:
        """Give up the lines that were sent up to a time."""
        late = [n for n, (_, sent_ns) in self._waiting.items() if sent_ns <= sent_until_ns]
        return [self._give_up(number, now_ns) for number in late]

    def _give_up(self, number: int, now_ns: int) -> Answer:
        message, sent_ns = self._waiting.pop(number)
        return Answer(
            number=number,
            message=message,
            outcome=Outcome.UNANSWERED,
            sent_ns=sent_ns,
            heard_ns=now_ns,
        )
