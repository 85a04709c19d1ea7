"""How long a gate's coil itself takes: the share of reach and shut that no lighter blade saves.

A coil is taken as a resistance and an inductance in series, with the armature at rest. Its current
rises as ``i = I0 (1 - exp(-t R/L))``; once the supply is off it falls through whatever clamps the
coil, as ``i = (I0 + V/R) exp(-t R/L) - V/R`` with the clamp's voltage V (first-order circuit). A
plain diode is the slow case: a clamp that takes more voltage lets the armature go sooner.
"""

import math
from dataclasses import dataclass

DIODE_V, ZENER_V = 0.8, 24.0
HOLDS = (0.3, 0.1)
"""An armature lets go at about these shares of the full current (common practice, no source)."""
PULLS = 0.6
"""And is drawn in at about this share of it (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A coil at its supply; all greater than 0."""

    resistance_ohm: float
    inductance_h: float
    supply_v: float

    @property
    def current_a(self) -> float:
        """The full current."""
        return self.supply_v / self.resistance_ohm

    @property
    def energy_j(self) -> float:
        """What the coil holds at the full current, and whatever clamps it takes up each time."""
        return 0.5 * self.inductance_h * self.current_a**2

    @property
    def power_w(self) -> float:
        """What heats it as long as it is on."""
        return self.supply_v * self.current_a

    def rise_s(self, share: float) -> float:
        """Return how long its current takes to a share of the full one, 0 to below 1."""
        return -self._constant_s * math.log1p(-share)

    def fall_s(self, share: float, clamp_v: float) -> float:
        """Return how long it takes down to a share, above 0 to 1, clamped at `clamp_v` ≥ 0."""
        own = clamp_v / self.resistance_ohm
        whole = self.current_a
        return self._constant_s * math.log((whole + own) / (share * whole + own))

    @property
    def _constant_s(self) -> float:
        return self.inductance_h / self.resistance_ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampRow:
    """How long a clamp keeps the coil holding: until each share of `HOLDS`."""

    clamp: str
    clamp_v: float
    falls_s: tuple[float, ...]


def clamp_rows(coil: Coil) -> tuple[ClampRow, ...]:
    """Return what the usual clamps come to."""
    clamps = {
        "plain diode": DIODE_V,
        f"diode and {ZENER_V:g} V clamp": DIODE_V + ZENER_V,
    }
    return tuple(
        ClampRow(clamp=name, clamp_v=volt, falls_s=tuple(coil.fall_s(s, volt) for s in HOLDS))
        for name, volt in clamps.items()
    )
