"""How many bags of each kind there are."""

from dataclasses import dataclass, field, replace

from viscount.packing.record import BagRecord, Result


@dataclass(slots=True, kw_only=True)
class Totals:
    """The bags of a run; of a bag with several records the last one stands.

    Attributes
    ----------
    packed : good bags, those from before the run included.
    """

    packed: int = 0
    _last: dict[int, Result] = field(default_factory=dict)
    _parts: int = 0

    def take(self, record: BagRecord) -> None:
        """Take a record; a check pour is no bag."""
        if record.bag == 0:
            return
        self._last[record.bag] = record.result
        if record.result is Result.GOOD:
            self.packed += 1
            self._parts += record.wanted

    def so_far(self) -> "Totals":
        """Return a copy that stays as it is."""
        return replace(self, _last=dict(self._last))

    def of(self, result: Result) -> int:
        """Return how many bags of this run are that."""
        return sum(one is result for one in self._last.values())

    @property
    def bags(self) -> int:
        """Bags of this run, good or not."""
        return len(self._last)

    @property
    def parts(self) -> int:
        """Parts in the good bags of this run."""
        return self._parts
