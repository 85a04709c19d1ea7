"""Reads a beam log into pulses, streaming."""

import hashlib
from pathlib import Path

from viscount.beam.pulses import DEFAULT_MIN_PULSE_NS, PulseMaker
from viscount.counters.beam_seen import BeamSeen
from viscount.devices.beams.log import BeamLog
from viscount.errors import SourceError
from viscount.outlet import Outlet
from viscount.tally import FileMark
from viscount.values import Pulse

_BLOCK = 1 << 20


def beam_seen(path: str | Path, outlet: Outlet) -> BeamSeen:
    """Return what a beam log holds; interruptions shorter than the outlet's least are spikes.

    Raises
    ------
    viscount.errors.SourceError : for a file that is no beam log.
    """
    log = BeamLog(path)
    maker = PulseMaker(min_pulse_ns=_least_ns(outlet))
    pulses: list[Pulse] = []
    for edge in log.edges():
        pulses += maker.feed(edge)
    pulses += maker.finish(log.end_device_t_ns)
    return BeamSeen(
        pulses=tuple(pulses), record=maker.record, notices=log.notices, log=_mark(log.path)
    )


def _least_ns(outlet: Outlet) -> int:
    beam = outlet.beam
    if beam is None or beam.min_pulse_us is None:
        return DEFAULT_MIN_PULSE_NS
    return round(1e3 * beam.min_pulse_us)


def _mark(path: Path) -> FileMark:
    summed = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                summed.update(block)
    except OSError as error:
        raise SourceError(
            f"the beam log cannot be read ({error.strerror or error})", where=str(path)
        ) from None
    return FileMark(name=str(path), sha256=summed.hexdigest())
