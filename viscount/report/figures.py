"""Figures as JSON has them: plain numbers, as fine as anything they can know; no NaN."""

import math
from typing import Any, Final

Json = dict[str, Any]

SECONDS: Final = 9
"""Decimals that times in seconds are rounded to."""
PIXELS: Final = 3
RATE: Final = 6
_SIGNIFICANT = 9


def whole(value: int | None) -> int | None:
    """Return a plain whole number."""
    return None if value is None else int(value)


def rounded(value: float | None, places: int) -> float | None:
    """Return a number with so many decimals; None for one that is not finite."""
    if value is None or not math.isfinite(value):
        return None
    # Adding zero turns -0.0 into 0.0.
    return round(float(value), places) + 0.0


def significant(value: float | None) -> float | None:
    """Return a number with nine digits; None for one that is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{_SIGNIFICANT}g}") + 0.0
