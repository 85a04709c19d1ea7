"""What a person should look at: notices, doubtful passages, pairings that differ."""

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

from viscount.agreement.result import WORTH_A_LOOK
from viscount.packing.record import BagRecord, Result
from viscount.packing.wording import said_of
from viscount.tally import Reason
from viscount.values import Level, Notice, Pairing, Pairs, Passage

MOST: Final = 300

_SAID: Final[dict[Pairs, str]] = {
    Pairs.CAMERA_ONLY: "camera only: the beam has no pulse for it",
    Pairs.BEAM_ONLY: "beam only: the camera saw nothing pass",
    Pairs.MERGED_PULSE: "several parts in one pulse",
    Pairs.SPLIT_PULSE: "one part, several pulses",
    Pairs.AMBIGUOUS: "entangled: more than one way to pair them",
    Pairs.AGREED: "unsure, though both counters have it",
}
_LOOK: Final = "look at the pictures, and recount the bag where they do not settle it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One thing to look at.

    Attributes
    ----------
    number : its own, rising.
    level : what it does to the count.
    t_s : when, at the line; None where it is about the whole run.
    frames : the first and the last that show it; None where no single frames do.
    title : in a few words. detail : with figures. remedy : what to do.
    """

    number: int
    level: Level
    title: str
    detail: str = ""
    remedy: str = ""
    t_s: float | None = None
    frames: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    level: Level
    title: str
    detail: str = ""
    remedy: str = ""
    t_s: float | None = None
    frames: tuple[int, int] | None = None


@dataclass(slots=True)
class Doubts:
    """The latest things to look at, oldest first; what was said before is not said again.

    Attributes
    ----------
    dropped : so many older ones gave way.
    """

    most: int = MOST
    dropped: int = 0
    _kept: deque[Doubt] = field(default_factory=deque)
    _known: set[_Told] = field(default_factory=set)
    _next: int = 1

    def __iter__(self) -> Iterator[Doubt]:
        return iter(self._kept)

    def __len__(self) -> int:
        return len(self._kept)

    def passed(self, passages: Iterable[Passage]) -> list[Doubt]:
        """Take final passages; return what is new."""
        return self._new(_of_passage(one) for one in passages if one.doubt > WORTH_A_LOOK)

    def paired(self, pairings: Iterable[Pairing], own: dict[int, Passage]) -> list[Doubt]:
        """Take pairings, with the passages they name; return what is new."""
        return self._new(
            _of_pairing(one, own)
            for one in pairings
            if differs(one) and not _as_passage_says(one, own)
        )

    def told(self, notice: Notice, t_s: float | None) -> list[Doubt]:
        """Take a notice of the run; return what is new."""
        said = _Told(
            level=notice.level,
            title=notice.code.meaning,
            detail=notice.text,
            remedy=notice.code.remedy,
            t_s=t_s,
        )
        return self._new([said])

    def reasoned(self, reasons: Iterable[Reason], level: Level) -> list[Doubt]:
        """Take what the tally says of the whole run; return what is new."""
        return self._new(
            _Told(level=level, title=one.code.meaning, detail=one.text, remedy=one.code.remedy)
            for one in reasons
        )

    def bagged(self, record: BagRecord, t_s: float) -> list[Doubt]:
        """Take a bag's record; return what is new: nothing for a good one."""
        if record.result is Result.GOOD:
            return []
        title, _, why = said_of(record).partition(" (")
        counts, _, reasons = why.partition(")")
        detail = f"{counts}{reasons}"
        remedy = "set it aside, and count it by hand"
        level = Level.DOUBT
        return self._new([_Told(level=level, title=title, detail=detail, remedy=remedy, t_s=t_s)])

    def _new(self, told: Iterable[_Told]) -> list[Doubt]:
        made = []
        for one in told:
            if one in self._known:
                continue
            self._known.add(one)
            made.append(
                Doubt(
                    number=self._next,
                    level=one.level,
                    title=one.title,
                    detail=one.detail,
                    remedy=one.remedy,
                    t_s=one.t_s,
                    frames=one.frames,
                )
            )
            self._next += 1
        self._kept.extend(made)
        while len(self._kept) > self.most:
            gone = self._kept.popleft()
            self._known.discard(_as_told(gone))
            self.dropped += 1
        return made


def differs(pairing: Pairing) -> bool:
    """Return whether a pairing is worth a look."""
    if pairing.kind in (Pairs.AGREED, Pairs.SPLIT_PULSE):
        return pairing.doubt > WORTH_A_LOOK
    return bool(pairing.parts or pairing.pulses)


def _as_told(one: Doubt) -> _Told:
    return _Told(
        level=one.level,
        title=one.title,
        detail=one.detail,
        remedy=one.remedy,
        t_s=one.t_s,
        frames=one.frames,
    )


def _of_passage(one: Passage) -> _Told:
    parts = "no part" if one.parts == 0 else "1 part" if one.parts == 1 else f"{one.parts} parts"
    return _Told(
        level=Level.DOUBT,
        title=f"camera unsure: counted as {parts}",
        detail=f"{_percent(one.doubt)} that this is wrong; passage {one.id}",
        remedy=_LOOK,
        t_s=1e-9 * one.t_ns,
        frames=(one.first_frame, one.last_frame),
    )


def _of_pairing(one: Pairing, own: dict[int, Passage]) -> _Told:
    named = [own[n] for n in one.passages if n in own]
    at_ns = named[0].t_ns if named else one.t_ns
    frames = None
    if named:
        frames = min(p.first_frame for p in named), max(p.last_frame for p in named)
    parts = f"counted as {one.parts}"
    why = one.why or parts
    detail = f"{why}; {_percent(one.doubt)} that the number is wrong"
    return _Told(
        level=Level.INFO if one.excused else Level.DOUBT,
        title=_SAID[one.kind],
        detail=detail,
        remedy=_LOOK,
        t_s=None if at_ns is None else 1e-9 * at_ns,
        frames=frames,
    )


def _as_passage_says(one: Pairing, own: dict[int, Passage]) -> bool:
    """Whether the pairing only repeats what its passage was doubted for."""
    if one.kind is not Pairs.AGREED or len(one.passages) != 1:
        return False
    passage = own.get(one.passages[0])
    return passage is not None and passage.doubt > WORTH_A_LOOK


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %" if chance >= 0.095 else f"{100 * chance:.2g} %"
