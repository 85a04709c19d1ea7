"""One line of what there is to say."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One line: its label, what it says, and what to do about it."""

    label: str
    text: str
    advice: str = ""
