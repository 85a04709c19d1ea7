"""Parts as teaching writes them, for tests that need one without dropping any."""

from typing import Any


def measured(middle: float, share: float = 0.02) -> dict[str, float]:
    """One measure that spreads by a share of its median."""
    return {
        "median": middle,
        "mad": 0.4 * share * middle,
        "p05": (1 - share) * middle,
        "p95": (1 + share) * middle,
    }


def beam_in(unit: str, length: float = 9.0) -> dict[str, Any]:
    """Washers of which three of four show their bore to the beam."""
    chance = {"low": 0.2, "high": 0.9}
    return {
        "parts": 24,
        f"pulse_{unit}": measured(length),
        "one_pulse": {"parts": 6, "chance": 0.25, **chance},
        "two_pulses": {"parts": 18, "chance": 0.75, **chance},
        "unseen": {"parts": 0, "chance": 0.0, "low": 0.0, "high": 0.14},
        "modes": [
            {
                "chance": 0.75,
                f"darks_{unit}": [0.28 * length, 0.28 * length],
                f"lights_{unit}": [0.44 * length],
                f"sigma_{unit}": 0.02 * length,
            },
            {"chance": 0.25, f"darks_{unit}": [0.7 * length], f"sigma_{unit}": 0.1 * length},
        ],
    }


def taught_keys(
    *,
    length: float = 16.5,
    area: float = 80.0,
    gyration: float = 5.0,
    scale: float | None = 4.0,
    share: float = 0.02,
    beam: bool = False,
    smear: float = 0.0,
) -> dict[str, Any]:
    """The keys of ``taught``: in mm at a scale, else in px."""
    unit = "px" if scale is None else "mm"
    keys: dict[str, Any] = {"version": 1, "singles": 24}
    if scale is not None:
        keys["scale_px_per_mm"] = scale
    keys[f"area_{unit}2"] = measured(area, share)
    keys[f"length_{unit}"] = measured(length, share)
    keys[f"gyration_{unit}"] = measured(gyration, share)
    keys[f"smear_{unit}"] = smear
    keys["profile"] = {"median": [0.5] * 23 + [1.0], "mad": [0.01] * 24}
    if beam:
        keys["beam"] = beam_in(unit)
    return keys
