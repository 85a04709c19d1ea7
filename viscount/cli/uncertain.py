"""Figures with their uncertainty, as many digits as mean something."""

import math

UNKNOWN = "-"
MOST_DECIMALS = 6


def with_uncertainty(value: float, expanded: float) -> str:
    """Return "4.435 ±0.012": the uncertainty with two digits, the value with as many decimals.

    JCGM 100, 7.2.6. The value alone, with three digits, where its uncertainty is not known.
    """
    if not math.isfinite(value):
        return UNKNOWN
    if not math.isfinite(expanded) or expanded <= 0.0:
        return significant(value)
    decimals = 1 - math.floor(math.log10(expanded))
    # 0.0996 is 0.10 with two digits, not 0.100.
    if round(expanded, decimals) >= 10.0 ** (2 - decimals):
        decimals -= 1
    decimals = min(decimals, MOST_DECIMALS)
    shown = max(decimals, 0)
    # Adding zero turns a rounded -0.0 into 0.0.
    return f"{round(value, decimals) + 0.0:.{shown}f} ±{round(expanded, decimals):.{shown}f}"


def significant(value: float | None, digits: int = 3) -> str:
    """Return a figure with so many digits that matter."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    if value == 0.0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}"
