"""The account of the pairing, as the tally hands it out."""

from collections import Counter
from collections.abc import Sequence

from viscount.agreement.clock_fit import ClockFit
from viscount.agreement.pooled import both_missed
from viscount.tally import AgreementTally
from viscount.values import Pairing, Pairs


def agreement_tally(
    pairings: Sequence[Pairing],
    fit: ClockFit,
    *,
    at_ns: int,
    height_known: bool,
    pooled: Sequence[Pairing] | None = None,
) -> AgreementTally:
    """Return how the counters agree.

    Parameters
    ----------
    at_ns : the first frame's time, for which the offset is stated; that of the first epoch.
    height_known : whether the transits were computed from the beam's height; else the offset is
        that of arrivals.
    pooled : pairings of many runs, for what both missed; None takes those of this run.

    Notes
    -----
    A passage of no parts that no pulse bears out is no difference: the camera did not count it.
    """
    counts = Counter(p.kind for p in pairings if p.parts or p.pulses)
    clock = fit.clocks[0] if fit.clocks else None
    offset_s = None if clock is None else 1e-9 * clock.offset_ns(at_ns)
    sigma_s = None if clock is None else 1e-9 * clock.sigma_ns(at_ns)
    parts = _parts(pairings if pooled is None else pooled)
    missed = both_missed(*parts)
    return AgreementTally(
        agreed=counts[Pairs.AGREED],
        camera_only=counts[Pairs.CAMERA_ONLY],
        beam_only=counts[Pairs.BEAM_ONLY],
        merged_pulses=counts[Pairs.MERGED_PULSE],
        split_pulses=counts[Pairs.SPLIT_PULSE],
        ambiguous=counts[Pairs.AMBIGUOUS],
        clock_offset_s=offset_s if height_known else None,
        arrival_offset_s=None if height_known else offset_s,
        offset_sigma_s=sigma_s,
        clock_drift_ppm=None if clock is None else clock.drift_ppm,
        drift_sigma_ppm=None if clock is None else clock.sigma_drift_ppm,
        both_missed=None if missed is None else missed.value,
    )


def _parts(pairings: Sequence[Pairing]) -> tuple[int, int, int]:
    """Return how many parts both saw, the camera alone, the beam alone, where both watched."""
    both = camera = beam = 0
    for pairing in pairings:
        if pairing.parts <= 0 or pairing.excused:
            continue
        if pairing.passages and pairing.pulses:
            both += pairing.parts
        elif pairing.passages:
            camera += pairing.parts
        else:
            beam += pairing.parts
    return both, camera, beam
