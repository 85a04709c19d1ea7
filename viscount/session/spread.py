"""How a quantity spreads over millions of values, in memory that does not grow."""

import math

import numpy as np

PER_DECADE = 60
"""Bins for each factor of ten: percentiles are good to 4 %."""
LEAST, DECADES = 1e-6, 9


class Percentiles:
    """Collects values above zero, in s, in bins of equal ratio."""

    def __init__(self) -> None:
        self._bins = np.zeros(PER_DECADE * DECADES + 1, np.int64)
        self.most = 0.0

    def __len__(self) -> int:
        return int(self._bins.sum())

    def add(self, value: float) -> None:
        """Add one value; what is below 1 us counts as that."""
        place = round(PER_DECADE * math.log10(max(value, LEAST) / LEAST))
        self._bins[min(place, self._bins.size - 1)] += 1
        self.most = max(self.most, value)

    def at(self, share: float) -> float | None:
        """Return the value below which this share lies; None without values."""
        total = len(self)
        if not total:
            return None
        place = int(np.searchsorted(np.cumsum(self._bins), share * total))
        return float(min(LEAST * 10.0 ** (place / PER_DECADE), self.most))
