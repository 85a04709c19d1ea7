"""The host's lines on their way to the board: numbered, written, and waiting for answers."""

from viscount.devices.protocol.asked import Answer, Asked
from viscount.devices.protocol.line import number_after, write_line
from viscount.devices.protocol.messages import HostMessage, No, Ok, to_line


class Outgoing:
    """Numbers and writes what the host has to say, and matches the answers.

    Attributes
    ----------
    boot : the run of the board that lines are meant for.
    """

    def __init__(self) -> None:
        self.boot = 0
        self._number = 0
        self._bytes = bytearray()
        self._asked = Asked()
        self._given_up: list[Answer] = []

    @property
    def oldest_ns(self) -> int | None:
        """When the line was sent that has waited longest for its answer."""
        return self._asked.oldest_ns

    def write(self, message: HostMessage, *, boot: int) -> int:
        """Write a line for which no answer is kept; return its number."""
        number = self._number
        self._bytes += write_line(to_line(message, number=number, boot=boot))
        self._number = number_after(number)
        return number

    def ask(self, now_ns: int, message: HostMessage) -> int:
        """Write a line that waits for its answer; return its number."""
        number = self.write(message, boot=self.boot)
        self._given_up += self._asked.put(number, message, now_ns)
        return number

    def answer(self, told: Ok | No, now_ns: int) -> Answer | None:
        """Match an answer; None where nobody waits for it."""
        return self._asked.answer(told, now_ns)

    def give_up(self, now_ns: int, *, sent_until_ns: int) -> None:
        """Wait no longer for lines that were sent up to a time."""
        self._given_up += self._asked.give_up(now_ns, sent_until_ns=sent_until_ns)

    def take_given_up(self) -> list[Answer]:
        """Return the lines given up since this was last asked."""
        given_up, self._given_up = self._given_up, []
        return given_up

    def take_bytes(self) -> bytes:
        """Return what is to be written, once."""
        taken = bytes(self._bytes)
        self._bytes.clear()
        return taken
