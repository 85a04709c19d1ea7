"""One change of the beam."""

from dataclasses import dataclass

from viscount.simulate.scene import Beam

WRAP_US = 2**32


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamEdge:
    """One change of the beam, as the board reports it, and its true time on the capture clock.

    `device_t_ns` is on the board's own clock, in the boot with this number.
    """

    seq: int
    boot: int = 0
    device_t_ns: int
    t_ns: int
    blocked: bool


def device_s(beam: Beam, t_s: float) -> float:
    """Turn a time on the capture clock into the board's own, for as long as it runs."""
    restarts = [r * 1e-3 for r in sorted(beam.board.restarts_ms) if r * 1e-3 <= t_s]
    rate = 1 + beam.drift_ppm * 1e-6
    own = (t_s - restarts[-1]) * rate if restarts else beam.offset_s + t_s * rate
    return own % (WRAP_US * 1e-6) if beam.board.wraps else own


def boot_at(beam: Beam, t_s: float) -> int:
    """Return how often the board has restarted by this time."""
    return sum(r * 1e-3 <= t_s for r in beam.board.restarts_ms)
