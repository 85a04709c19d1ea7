"""A look at a recording as one JSON object, schema ``viscount.check/1``."""

import math
from dataclasses import fields
from typing import Any

from viscount.checking.examined import SCHEMA, Examined
from viscount.checking.figures import (
    ClockFigures,
    LightFigures,
    MotionFigures,
    PictureFigures,
    ReadoutFigures,
    SteadinessFigures,
)
from viscount.checking.finding import Finding

Json = dict[str, Any]
Figures = (
    ClockFigures
    | LightFigures
    | MotionFigures
    | PictureFigures
    | ReadoutFigures
    | SteadinessFigures
)

_SIGNIFICANT = 6


def check_json(examined: Examined) -> Json:
    """Return it as plain values, keys in the order of the schema; unknown is None.

    Nothing in it is NaN or infinite, and no number is NumPy's.
    """
    mark = examined.outlet
    return {
        "schema": SCHEMA,
        "made_by": examined.made_by,
        "source": examined.source,
        "outlet": None if mark is None else {"name": mark.name, "sha256": mark.sha256},
        "status": examined.status.value,
        "summary": examined.summary,
        "findings": [_finding(one) for one in examined.findings],
        "notes": [_finding(one) for one in examined.notes],
        "clock": _figures(examined.clock),
        "light": _figures(examined.light),
        "picture": _figures(examined.picture),
        "steadiness": _figures(examined.steadiness),
        "motion": _figures(examined.motion),
        "readout": _figures(examined.readout),
    }


def _finding(one: Finding) -> Json:
    return {
        "level": one.level.value,
        "code": one.code.code,
        "found": one.found,
        "expected": one.expected or None,
        "where": one.where or None,
        "remedy": one.remedy,
    }


def _figures(figures: Figures) -> Json:
    return {field.name: _plain(getattr(figures, field.name)) for field in fields(figures)}


def _plain(value: object) -> object:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, int):
        return int(value)
    number = float(value)  # type: ignore[arg-type]
    # Adding zero turns -0.0 into 0.0.
    return float(f"{number:.{_SIGNIFICANT}g}") + 0.0 if math.isfinite(number) else None
