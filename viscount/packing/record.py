"""What became of a bag: one line of the journal."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from viscount.packing.paired import Paired

SCHEMA: Final = "viscount.pack/1"


class Result(StrEnum):
    """What a bag is."""

    GOOD = "good"
    SHORT = "short"
    OVER = "over"
    UNSURE = "unsure"
    PINCHED = "pinched"
    """A part may have been under the blade as it shut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BagRecord:
    """What became of a bag, or of a check pour, by its last pour.

    Attributes
    ----------
    bag : its number, from 1; 0 is the check pour.
    pours : how many it took so far. Of several records of a bag the last one stands.
    result : good is: the wanted number, by both counters, and nothing against it.
    wanted : parts. in_bag : by both counters; None where that is not known.
    held : parts on the blade, for the next bag; None where that is not known.
    beam, camera : what each counted of the last pour.
    reasons : why it is not good, in words.
    part : the name of the part.
    by_hand : of a check pour, what a person counted.
    paired : how the counters of the last pour go together; None where an older journal is silent.
    """

    bag: int
    pours: int
    result: Result
    wanted: int
    in_bag: int | None
    held: int | None
    beam: int
    camera: int
    reasons: tuple[str, ...]
    part: str
    by_hand: int | None = None
    paired: Paired | None = None

    @property
    def missing(self) -> int:
        """How many parts it lacks; negative where it has too many, 0 where nobody knows."""
        return 0 if self.in_bag is None else self.wanted - self.in_bag

    @property
    def passed(self) -> bool:
        """Whether it needs nothing more: a good bag, or a check pour counted alike by hand."""
        agreed = self.bag > 0 or self.by_hand == self.in_bag
        return self.result is Result.GOOD and agreed


def record_as_dict(record: BagRecord) -> dict[str, Any]:
    """Return a record as the journal's line has it."""
    return {
        "schema": SCHEMA,
        "kind": "bag" if record.bag else "check_pour",
        "bag": record.bag,
        "pours": record.pours,
        "result": str(record.result),
        "wanted": record.wanted,
        "in_bag": record.in_bag,
        "held": record.held,
        "beam": record.beam,
        "camera": record.camera,
        "reasons": list(record.reasons),
        "part": record.part,
        "by_hand": record.by_hand,
        "agreement": None if record.paired is None else record.paired.as_dict(),
    }


def record_from(line: Mapping[str, Any]) -> BagRecord:
    """Return the record of a journal's line.

    Raises
    ------
    KeyError, TypeError, ValueError : it is no such line.
    """
    if line["schema"] != SCHEMA or line["kind"] not in ("bag", "check_pour"):
        raise ValueError("no record of a bag")
    return BagRecord(
        bag=_count(line["bag"]),
        pours=_count(line["pours"]),
        wanted=_count(line["wanted"]),
        beam=_count(line["beam"]),
        camera=_count(line["camera"]),
        in_bag=_maybe(line["in_bag"]),
        held=_maybe(line["held"]),
        by_hand=_maybe(line["by_hand"]),
        result=Result(line["result"]),
        reasons=tuple(str(reason) for reason in line["reasons"]),
        part=str(line["part"]),
        paired=None if line.get("agreement") is None else Paired.of(line["agreement"]),
    )


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(f"{value!r} is no whole number")
    return value


def _maybe(value: object) -> int | None:
    return None if value is None else _count(value)
