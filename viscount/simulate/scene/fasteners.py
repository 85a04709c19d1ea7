"""Dimensions of metric fasteners, by their standards' designations.

Nominal or greatest dimensions, in mm, as two public tables of them agree (the standards' own
texts were not seen): the cylinder head ISO 4762 with its plain greatest diameter, the hexagon
head ISO 4017, the button head ISO 7380-1, the nut ISO 4032 and the washer ISO 7089.
"""

import re
from typing import Any, Final

Row = dict[str, tuple[float, ...]]

SOCKET_HEADS: Final[Row] = {
    "M2": (3.8, 2.0),
    "M2.5": (4.5, 2.5),
    "M3": (5.5, 3.0),
    "M4": (7.0, 4.0),
    "M5": (8.5, 5.0),
    "M6": (10.0, 6.0),
    "M8": (13.0, 8.0),
}
"""ISO 4762: head diameter (plain, greatest), head height."""

HEXAGON_HEADS: Final[Row] = {
    "M2": (4.0, 1.4),
    "M2.5": (5.0, 1.7),
    "M3": (5.5, 2.0),
    "M4": (7.0, 2.8),
    "M5": (8.0, 3.5),
    "M6": (10.0, 4.0),
    "M8": (13.0, 5.3),
}
"""ISO 4017: width across flats, head height (nominal)."""

BUTTON_HEADS: Final[Row] = {
    "M3": (5.7, 1.65),
    "M4": (7.6, 2.2),
    "M5": (9.5, 2.75),
    "M6": (10.5, 3.3),
    "M8": (14.0, 4.4),
}
"""ISO 7380-1: head diameter, head height."""

NUTS: Final[Row] = {
    "M2": (4.0, 1.6),
    "M2.5": (5.0, 2.0),
    "M3": (5.5, 2.4),
    "M4": (7.0, 3.2),
    "M5": (8.0, 4.7),
    "M6": (10.0, 5.2),
    "M8": (13.0, 6.8),
}
"""ISO 4032: width across flats, height."""

WASHERS: Final[Row] = {
    "M2": (2.2, 5.0, 0.3),
    "M2.5": (2.7, 6.0, 0.5),
    "M3": (3.2, 7.0, 0.5),
    "M4": (4.3, 9.0, 0.8),
    "M5": (5.3, 10.0, 1.0),
    "M6": (6.4, 12.0, 1.6),
    "M8": (8.4, 16.0, 1.6),
}
"""ISO 7089: bore, diameter, thickness (nominal)."""

_SCREWS: Final = {
    "4762": (SOCKET_HEADS, "cylinder"),
    "4017": (HEXAGON_HEADS, "hexagon"),
    "7380": (BUTTON_HEADS, "dome"),
}
_DESIGNATION = re.compile(r"ISO (\d+)(?:-1)? (M[\d.]+)(?:x(\d+(?:\.\d+)?))?")


def standard_part(designation: Any) -> dict[str, Any]:
    """Return the keys of the part that a designation such as ``ISO 4762 M4x12`` names.

    Raises
    ------
    ValueError
        Where it names no part of the tables above.
    """
    match = _DESIGNATION.fullmatch(designation) if isinstance(designation, str) else None
    if match is None:
        raise ValueError(f"{designation!r} is no designation such as 'ISO 4762 M4x12'")
    standard, size, length = match.groups()
    name = {"name": designation}
    if standard in _SCREWS:
        heads, head = _SCREWS[standard]
        across, height = _row(heads, standard, size)
        if length is None:
            raise ValueError(f"{designation!r} needs a length, as in 'ISO {standard} {size}x12'")
        return name | {
            "shape": "screw",
            "head": head,
            "overall_length_mm": float(length) + height,
            "head_diameter_mm": across,
            "head_height_mm": height,
            "shank_diameter_mm": float(size[1:]),
        }
    if length is not None:
        raise ValueError(f"{designation!r} has a length, which only screws have")
    if standard == "4032":
        flats, height = _row(NUTS, standard, size)
        bore = float(size[1:])
        nut = {"shape": "nut", "across_flats_mm": flats, "thickness_mm": height, "bore_mm": bore}
        return name | nut
    if standard == "7089":
        bore, diameter, height = _row(WASHERS, standard, size)
        washer = {"shape": "washer", "diameter_mm": diameter, "thickness_mm": height}
        return name | washer | {"bore_mm": bore}
    known = ", ".join(f"ISO {number}" for number in (*_SCREWS, "4032", "7089"))
    raise ValueError(f"ISO {standard} is not known here; there are {known}")


def _row(table: Row, standard: str, size: str) -> tuple[float, ...]:
    if size not in table:
        raise ValueError(f"ISO {standard} has no {size} here; there are {', '.join(table)}")
    return table[size]
