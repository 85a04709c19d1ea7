"""The clocks of both counters, as the tally states them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from viscount.agreement.account import agreement_tally
from viscount.agreement.arrival import Arrival
from viscount.agreement.clock_fit import ClockFit
from viscount.counters.ambiguity import spread_ns
from viscount.tally import AgreementTally
from viscount.values import Pairing


def agreement_of(
    pairings: Sequence[Pairing],
    fit: ClockFit,
    arrivals: Sequence[Arrival],
    *,
    height_known: bool,
) -> AgreementTally:
    """Return how the counters agree, with the clocks at the first frame.

    Of several offsets that may be right, the one that is stated has all of them in its
    uncertainty.
    """
    made = agreement_tally(pairings, fit, at_ns=0, height_known=height_known)
    if fit.ambiguous and made.offset_sigma_s is not None:
        sigma = float(np.hypot(made.offset_sigma_s, 1e-9 * spread_ns(fit)))
        made = replace(made, offset_sigma_s=sigma)
    if height_known or not fit.clocks:
        return made
    # What the fit put down to the beam's height belongs to the way from the line, too.
    clock = fit.clocks[0]
    common_us = 1e-3 * float(np.median([a.common_ns for a in arrivals]))
    at_s = np.array([-1e-9 * clock.origin_ns])
    own_s = 1e-6 * float(clock.sigma_us(at_s, np.array([common_us]))[0])
    if fit.ambiguous:
        own_s = float(np.hypot(own_s, 1e-9 * spread_ns(fit)))
    return replace(
        made,
        arrival_offset_s=1e-9 * clock.offset_ns(0) + 1e-6 * clock.height * common_us,
        offset_sigma_s=own_s,
    )
