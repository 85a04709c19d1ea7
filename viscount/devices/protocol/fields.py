"""The fields of a message: how each is written in a line, and what it may be."""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NamedTuple, Protocol

_DIGITS = re.compile(r"0|[1-9][0-9]*")
_NAME = re.compile(r"[a-z0-9][a-z0-9.-]*")

U16 = 2**16 - 1
U32 = 2**32 - 1


class Has(NamedTuple):
    """What is fitted to a board."""

    beam: bool = True
    gate: bool = True
    lamp: bool = False
    shut: bool = False
    """A sensor that sees the blade where it shuts the stream."""


class FieldRule(Protocol):
    """How one kind of field is written and read."""

    def allowed(self) -> str:
        """Return in words what the field may be, as the page says it."""
        ...

    def write(self, value: Any) -> str | None:
        """Return the field, or None where the value is not allowed."""
        ...

    def read(self, text: str) -> Any:
        """Return the value, or None where the field is not allowed."""
        ...


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number, decimal, without sign or leading zeros."""

    least: int
    most: int

    def allowed(self) -> str:
        """Return the range."""
        return f"{self.least} to {self.most}"

    def write(self, value: Any) -> str | None:
        """Return the digits."""
        whole = isinstance(value, int) and not isinstance(value, bool)
        return str(value) if whole and self.least <= value <= self.most else None

    def read(self, text: str) -> int | None:
        """Return the number."""
        if not _DIGITS.fullmatch(text) or len(text) > 10:
            return None
        return value if self.least <= (value := int(text)) <= self.most else None


@dataclass(frozen=True, slots=True)
class Flag:
    """0 or 1."""

    def allowed(self) -> str:
        """Return both."""
        return "0 or 1"

    def write(self, value: Any) -> str | None:
        """Return the digit."""
        return str(int(value)) if isinstance(value, bool) else None

    def read(self, text: str) -> bool | None:
        """Return whether it is 1."""
        return {"0": False, "1": True}.get(text)


@dataclass(frozen=True, slots=True)
class Name:
    """A word that the board's maker chooses."""

    longest: int

    def allowed(self) -> str:
        """Return the length."""
        return f"a word of up to {self.longest} bytes"

    def write(self, value: Any) -> str | None:
        """Return the word."""
        return self.read(value) if isinstance(value, str) else None

    def read(self, text: str) -> str | None:
        """Return the word."""
        return text if len(text) <= self.longest and _NAME.fullmatch(text) else None


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of a few words."""

    words: type[StrEnum]

    def allowed(self) -> str:
        """Return the words."""
        return ", ".join(f"`{word}`" for word in self.words)

    def write(self, value: Any) -> str | None:
        """Return the word."""
        return str(value) if isinstance(value, self.words) else None

    def read(self, text: str) -> StrEnum | None:
        """Return the word as a member."""
        return self.words(text) if text in list(self.words) else None


@dataclass(frozen=True, slots=True)
class Fitted:
    """What a board has, a letter each in their order: ``b`` beam, ``g`` gate, ``l`` lamp, ``s``."""

    letters: str = "bgls"

    def allowed(self) -> str:
        """Return the letters."""
        return f"`{self.letters}`, `0` in place of each that is absent"

    def write(self, value: Any) -> str | None:
        """Return the letters of what is there."""
        if not isinstance(value, Has):
            return None
        return "".join(c if there else "0" for c, there in zip(self.letters, value, strict=True))

    def read(self, text: str) -> Has | None:
        """Return what is there."""
        pairs = list(zip(text, self.letters, strict=False))
        if len(text) != len(self.letters) or any(c not in ("0", own) for c, own in pairs):
            return None
        return Has(*(c == own for c, own in pairs))
