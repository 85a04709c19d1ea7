"""What a look at a recording comes to: findings, each with figures and a remedy."""

from dataclasses import dataclass

from viscount.codes import Code
from viscount.values import Level


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something that spoils a count, or a note that does not.

    Attributes
    ----------
    level : INVALID makes counting impossible, DOUBT costs accuracy, INFO is a note.
    found : what was met, with figures.
    expected : what a healthy recording shows, with figures.
    where : frame or place; empty for the whole recording.
    """

    level: Level
    code: Code
    found: str
    expected: str = ""
    where: str = ""

    @property
    def remedy(self) -> str:
        """What to change."""
        return self.code.remedy


def doubt(code: Code, found: str, expected: str = "", where: str = "") -> Finding:
    """Return a finding that costs accuracy."""
    return Finding(level=Level.DOUBT, code=code, found=found, expected=expected, where=where)


def refusal(code: Code, found: str, expected: str = "", where: str = "") -> Finding:
    """Return a finding that makes counting impossible."""
    return Finding(level=Level.INVALID, code=code, found=found, expected=expected, where=where)


def note(code: Code, found: str, expected: str = "", where: str = "") -> Finding:
    """Return a note: it spoils nothing."""
    return Finding(level=Level.INFO, code=code, found=found, expected=expected, where=where)
