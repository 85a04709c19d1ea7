"""What a link has to tell after it heard bytes, or after its turn."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from viscount.codes import Code
from viscount.devices.protocol.asked import Answer
from viscount.devices.protocol.messages import BoardMessage
from viscount.values import Edge, Level, Notice


@dataclass(slots=True, kw_only=True)
class Report:
    """What is new; each thing is told once, and each list is in the order in which it came.

    Attributes
    ----------
    where : the board that all of this is about.
    to_send : bytes for the board, to be written at once.
    edges : for the beam's rooms. The first, and the first of a restarted board that tells of its
        restart, is the beam's level there, with the number of the last edge before it.
    answers : what became of lines of the host.
    messages : everything else that the board said.
    notices : what the user must know.
    """

    where: str = ""
    to_send: bytes = b""
    edges: list[Edge] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    messages: list[BoardMessage] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def tell(self, level: Level, code: Code, text: str) -> None:
        """Add a notice."""
        self.notices.append(Notice(level=level, code=code, text=text, where=self.where))

    def contradiction(self, text: str) -> None:
        """Add the notice that the board breaks the rules."""
        self.tell(Level.DOUBT, Code.BOARD_CONTRADICTS, text)

    def given_up(self, answers: Sequence[Answer]) -> None:
        """Add lines that were never answered."""
        for one in answers:
            text = f"the board did not answer {one.message.KIND!r} (line {one.number})"
            self.tell(Level.INFO, Code.BOARD_UNANSWERED, text)
        self.answers += answers
