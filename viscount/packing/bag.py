"""One bag, over its pours."""

from dataclasses import dataclass, field

from viscount.packing.judging import Judged, result_of
from viscount.packing.paired import Paired
from viscount.packing.record import BagRecord, Result


@dataclass(slots=True, kw_only=True)
class Bag:
    """The bag under the outlet.

    Attributes
    ----------
    number : from 1; 0 is the check pour.
    pours : begun so far.
    in_bag : parts by both counters; None once that is not known.
    note : what is to be told of it beside the counts.
    by_hand : of a check pour.
    """

    number: int
    wanted: int
    part: str
    pours: int = 0
    in_bag: int | None = 0
    note: str = ""
    by_hand: int | None = None
    _result: Result = Result.SHORT
    _held: int | None = 0
    _beam: int = 0
    _camera: int = 0
    _paired: Paired | None = None
    _reasons: list[str] = field(default_factory=list)

    @property
    def missing(self) -> int:
        """How many parts it lacks, where that is known."""
        return 0 if self.in_bag is None else max(self.wanted - self.in_bag, 0)

    def can_top_up(self, held: int) -> bool:
        """Whether another pour can fill it: it is surely short, by more than lie on the blade."""
        poured = self.pours > 0 and self.number > 0
        return poured and self._result is Result.SHORT and self.missing > held

    def poured(self, one: Judged, camera: int, note: str) -> None:
        """Take what a pour brought."""
        self.note = note
        self.in_bag = None if self.in_bag is None or one.fell is None else self.in_bag + one.fell
        self._result = result_of(one, in_bag=self.in_bag, wanted=self.wanted)
        self._held, self._beam, self._camera = one.held, one.beam, camera
        self._paired = one.paired
        self._reasons += [reason for reason in one.reasons if reason not in self._reasons]

    def record(self) -> BagRecord:
        """Return what there is to write of it."""
        reasons = [*self._reasons, self.note] if self.note else self._reasons
        if self.number == 0 and self.by_hand is not None and self.by_hand != self.in_bag:
            counted = "are not sure" if self.in_bag is None else f"say {self.in_bag}"
            reasons = [*reasons, f"{self.by_hand} by hand, the counters {counted}"]
            self._result = Result.UNSURE
        good = self._result is Result.GOOD
        return BagRecord(
            bag=self.number,
            pours=self.pours,
            result=self._result,
            wanted=self.wanted,
            in_bag=self.in_bag,
            held=self._held,
            beam=self._beam,
            camera=self._camera,
            paired=self._paired,
            reasons=() if good else tuple(reasons),
            part=self.part,
            by_hand=self.by_hand,
        )
