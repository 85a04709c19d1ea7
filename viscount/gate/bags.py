"""What is in each bag where the line is above the blade: inferred, with its doubt."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.gate.coming import Coming
from viscount.gate.commands import Commands, Cycle
from viscount.gate.fates import Met, followed
from viscount.gate.strokes import Strokes
from viscount.gate.sums import sum_of
from viscount.tally import Bag, Reason
from viscount.values import Status

SURE: Final = 0.999
"""A part whose fate is less sure than this makes a bag doubtful."""
LEAST_STROKES: Final = 5
_SURELY: Final = 1.5
"""What lay on the blade has surely fallen after so many times what the law says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bags:
    """The bags of one recording, in order; and how many parts lie on the blade in the end.

    `held` is None where that is not known, or where the gate is open in the end.
    """

    bags: tuple[Bag, ...]
    held: int | None


def bags_above(
    parts: Coming,
    commands: Commands,
    strokes: Strokes,
    *,
    end_s: float,
    lay_before: int | None = None,
    doubts: Sequence[Reason] = (),
) -> Bags:
    """Infer every bag from when each part comes to the blade, and when the blade moves.

    Parameters
    ----------
    parts : all that crossed the line, which is above the blade.
    end_s : the last frame's time.
    lay_before : how many parts lay on the blade when the recording began; None where nobody says.
        A gate that stood open had none.
    doubts : whatever makes all bags doubtful.
    """
    if commands.open_at_first:
        lay_before = 0
    cycles = commands.cycles
    found: list[Bag] = []
    settled = np.zeros(len(parts), dtype=np.bool_)
    before, pinched_before = lay_before or 0, 0
    for number, (cycle, met) in enumerate(
        zip(cycles, followed(parts, commands, strokes, lay_before=before), strict=True), start=1
    ):
        said = list(doubts)
        if number == 1 and lay_before is None:
            said.append(_reason(Code.BAG_HELD_UNKNOWN))
        if len(strokes.shutting) < LEAST_STROKES:
            said.append(_few(strokes))
        if not _seen_to_its_end(cycle, strokes, parts, end_s):
            said.append(_reason(Code.BAG_NOT_SHUT))
        own = _Fates(parts, met, settled)
        extra = (lay_before or 0) if number == 1 else 0
        if number == 1:
            before += own.lay_in_way
            if extra and _hurried(cycle, strokes, parts, extra):
                said.append(_reason(Code.BAG_PARTS_UNSURE))
        bag = own.bag(number, extra, before, said, pinched_before=pinched_before)
        found.append(bag)
        settled[own.inside] = True
        before = (bag.held_after or 0) + (bag.pinched or 0)
        pinched_before = bag.pinched or 0
    if not cycles:
        return Bags(bags=(), held=int(parts.parts.sum()) + before)
    shut = cycles[-1].shut_s is not None
    return Bags(bags=tuple(found), held=found[-1].held_after if shut else None)


class _Fates:
    """What became of the entries that one cycle met, each in the likeliest way."""

    def __init__(self, parts: Coming, met: Met, settled: NDArray[np.bool_]) -> None:
        self._parts, self._met = parts, met
        open_ = ~settled[met.entry]
        through = met.inside.mean(axis=0)
        elsewhere = np.maximum(1.0 - through - met.held - met.caught, 0.0)
        later = elsewhere - (1.0 - met.before)
        each = np.stack([through, met.held, met.caught, later])
        likeliest = each.argmax(axis=0)
        self._through = open_ & (likeliest == 0)
        self._held = open_ & (likeliest == 1)
        self._caught = open_ & (likeliest == 2)
        self.inside = met.entry[self._through]
        # Whether it is held or comes later makes no difference to this bag.
        surest = np.maximum.reduce([through, met.caught, met.held + elsewhere])
        self._unsure = surest < SURE
        # What is in the blade's way may as well be in the bag as not.
        mass = np.minimum(met.inside + 0.5 * met.caught, 1.0)
        inside = met.surely_inside
        surely = parts.parts[inside], parts.doubt[inside]
        self._sure = int(surely[0].sum()), int(parts.parts[met.surely_held].sum())
        self._sum = sum_of(mass, self._many, parts.doubt[met.entry], surely)

    @property
    def _many(self) -> NDArray[np.int64]:
        return self._parts.parts[self._met.entry]

    @property
    def lay_in_way(self) -> int:
        """How many parts lay on the blade before this cycle opened it."""
        return int(self._many[self._met.carried].sum())

    def bag(
        self,
        number: int,
        extra: int,
        before: int,
        said: list[Reason],
        *,
        pinched_before: int,
    ) -> Bag:
        """Return the bag; `extra` parts lay on the blade that never crossed the line."""
        content = int(self._many[self._through].sum()) + self._sure[0]
        pinched = int(self._many[self._caught].sum())
        unsure = int(self._many[self._unsure].sum())
        if pinched or pinched_before:
            when = "as it shut" if pinched else "before it opened"
            text = f"{_parts(pinched or pinched_before)} in the blade's way {when}"
            said.append(Reason(code=Code.BAG_PINCHED, text=text))
        elif unsure:
            text = f"{_parts(unsure)} came so near to the stroke that nobody can say where they are"
            said.append(Reason(code=Code.BAG_PARTS_UNSURE, text=text))
        low, high = self._sum.about(content)
        return Bag(
            number=number,
            content=content + extra,
            low=low + extra,
            high=high + extra,
            chance=self._sum.of(content),
            held_before=before,
            held_after=int(self._many[self._held].sum()) + self._sure[1],
            pinched=pinched,
            status=Status.DOUBTFUL if said else Status.CLEAN,
            reasons=tuple(said),
        )


def _seen_to_its_end(cycle: Cycle, strokes: Strokes, parts: Coming, end_s: float) -> bool:
    """Whether the recording shows all that could fall into the bag."""
    if cycle.shut_s is None:
        return False
    return end_s >= cycle.shut_s + float(strokes.shutting.done_s.max()) - parts.line_to_blade_s


def _hurried(cycle: Cycle, strokes: Strokes, parts: Coming, extra: int) -> bool:
    """Whether a bag is shut before so many parts that lay on the blade have fallen for sure."""
    if cycle.shut_s is None or cycle.opened_s is None:
        return False
    if not len(parts):
        return True
    opens_s = float((strokes.opening or strokes.shutting).done_s.max())
    falls_s = parts.falls_s(extra * float(np.median(parts.length)))
    leaves_s = cycle.shut_s + float(strokes.shutting.begins_s.min()) - cycle.opened_s - opens_s
    return bool(leaves_s < _SURELY * falls_s)


def _few(strokes: Strokes) -> Reason:
    text = f"{len(strokes.shutting)} strokes that shut, of {LEAST_STROKES} at least"
    return Reason(code=Code.BAG_FEW_STROKES, text=text)


def _parts(many: int) -> str:
    return f"{many} part" if many == 1 else f"{many} parts"


def _reason(code: Code) -> Reason:
    return Reason(code=code, text=code.meaning)
