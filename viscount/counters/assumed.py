"""What was taken for granted of the beam."""

from viscount.beam.pulses import DEFAULT_MIN_PULSE_NS
from viscount.codes import Code
from viscount.counters.beam_place import BeamPlace
from viscount.measure.heights import SIGMA_MM, SIGMA_PX
from viscount.outlet import Outlet
from viscount.tally import Assumption


def beam_assumptions(outlet: Outlet, place: BeamPlace, *, learned: bool) -> tuple[Assumption, ...]:
    """Return it; `learned` is whether this run had to teach what one part does to the beam."""
    beam = outlet.beam
    made: list[Assumption] = []
    if not place.known:
        made.append(_assumed(Code.BEAM_HEIGHT_UNKNOWN))
    elif beam is not None and beam.at_px is not None:
        made.append(_assumed(Code.BEAM_HEIGHT_ASSUMED, SIGMA_PX, "px"))
    else:
        made.append(_assumed(Code.BEAM_HEIGHT_ASSUMED, SIGMA_MM, "mm"))
    if beam is None or beam.width_mm is None:
        made.append(_assumed(Code.BEAM_WIDTH_ASSUMED))
    else:
        made.append(_assumed(Code.BEAM_THRESHOLD_ASSUMED, place.law.threshold))
    if beam is None or beam.min_pulse_us is None:
        made.append(_assumed(Code.BEAM_LEAST_ASSUMED, 1e-3 * DEFAULT_MIN_PULSE_NS, "µs"))
    if learned:
        made.append(_assumed(Code.BEAM_PART_LEARNED))
    return tuple(made)


def _assumed(code: Code, value: float | None = None, unit: str | None = None) -> Assumption:
    return Assumption(code=code, text=code.meaning, value=value, unit=unit)
