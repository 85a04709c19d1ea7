"""One pour through clock fit, pairing and combined result, with the figures of it."""

import time
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from benchmarks.pairing.judging import judge, unknowable
from benchmarks.pairing.lists import Lists

from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.combined import combined
from viscount.agreement.error_rates import rates_for
from viscount.agreement.pairing import pair
from viscount.agreement.result import Result, result
from viscount.values import Status

UNSAID = 0.01
"""A wrong pairing whose stated doubt is less than this was not said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What one pour came to; offsets in ms, drifts in ppm, None where no clock was found."""

    ambiguous: bool
    offset: float | None
    offset_z: float | None
    drift: float | None
    drift_z: float | None
    pairings: int
    wrong: int
    clean: bool
    exact: bool
    unknowable: int
    wrong_clean: bool
    unsaid: int
    held: bool
    events: int
    seconds: float


def tried(made: Lists, *, taught: bool = True) -> Trial:
    """Run one pour and compare it with the truth; the offset is asked for in its middle.

    `taught` : whether the part's signature is known.
    """
    signature = made.signature if taught else None
    begun = time.process_time()
    camera = result([a.passage for a in made.arrivals], (), 0)
    rates = rates_for(camera)
    fit = fit_clocks(made.arrivals, made.pulses, signature=signature)
    pairings = pair(made.arrivals, made.pulses, fit.clocks, signature=signature, rates=rates)
    count = len(made.pulses)
    beam = Result(count=count, low=count, high=count, status=Status.CLEAN, reasons=())
    whole = combined(pairings, fit, camera=camera, beam=beam, origin_ns=0, rates=rates).result
    seconds = time.process_time() - begun
    judged, beyond = judge(made, pairings), unknowable(made)
    clean = whole.status is Status.CLEAN
    if not judged.once:
        raise SystemExit("an event is in no pairing, or in two")
    offset = offset_z = drift = drift_z = None
    if fit.clocks and not fit.ambiguous:
        clock = fit.clocks[0]
        at_ns = int(np.median([a.due_ns for a in made.arrivals]))
        off_ns = clock.offset_ns(at_ns) - 1e9 * made.offset_s - at_ns * 1e-6 * made.drift_ppm
        offset, offset_z = 1e-6 * off_ns, off_ns / clock.sigma_ns(at_ns)
        drift = clock.drift_ppm - made.drift_ppm
        drift_z = drift / clock.sigma_drift_ppm
    return Trial(
        ambiguous=fit.ambiguous,
        offset=offset,
        offset_z=offset_z,
        drift=drift,
        drift_z=drift_z,
        pairings=judged.pairings,
        wrong=len(judged.wrong),
        clean=clean,
        exact=whole.count == made.parts,
        unknowable=beyond,
        wrong_clean=clean and not made.parts - beyond <= (whole.count or 0) <= made.parts,
        unsaid=sum(pairing.doubt < UNSAID for pairing in judged.wrong),
        held=whole.low <= made.parts <= whole.high,
        events=len(made.arrivals) + len(made.pulses),
        seconds=seconds,
    )


def figures(trials: Iterable[Trial]) -> dict[str, float | int | None]:
    """Return the figures of many pours; those that were declared ambiguous are not paired right
    or wrong."""
    every = list(trials)
    told = [trial for trial in every if not trial.ambiguous]
    pairings = sum(trial.pairings for trial in told)
    return {
        "pours": len(every),
        "ambiguous": len(every) - len(told),
        "no_clock": sum(trial.offset is None for trial in told),
        "offset_max_ms": _worst([trial.offset for trial in told]),
        "offset_z": _rms([trial.offset_z for trial in told]),
        "drift_max_ppm": _worst([trial.drift for trial in told]),
        "drift_z": _rms([trial.drift_z for trial in told]),
        "pairings": pairings,
        "right": 1.0 - sum(trial.wrong for trial in told) / max(pairings, 1),
        "clean": sum(trial.clean for trial in every),
        "clean_and_wrong": sum(trial.wrong_clean for trial in every),
        "clean_beyond_both": sum(
            trial.clean and not trial.exact and not trial.wrong_clean for trial in every
        ),
        "unknowable": sum(trial.unknowable for trial in every),
        "wrong_unsaid": sum(trial.unsaid for trial in told),
        "exact": sum(trial.exact for trial in every),
        "range_held": sum(trial.held for trial in every),
        "us_per_event": 1e6
        * sum(trial.seconds for trial in every)
        / max(sum(trial.events for trial in every), 1),
    }


def _worst(values: list[float | None]) -> float | None:
    known = [abs(value) for value in values if value is not None]
    return max(known) if known else None


def _rms(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.sqrt(np.mean(np.square(known)))) if known else None
