"""How many pulses a counter with a dead time loses, where events come at random.

A counter is blind for `dead_s` after an event. It is non-paralyzable where events in that time
change nothing, paralyzable where each of them makes it blind for as long again, as a part that
follows closely keeps a beam dark. With n the true rate and m the counted one:

- non-paralyzable: m = n / (1 + n tau);
- paralyzable: m = n exp(-n tau), greatest at n tau = 1;
- the chance that a gap is shorter than tau is 1 - exp(-n tau).

Sources: G. F. Knoll, Radiation Detection and Measurement, chapter 4 (dead time models);
J. W. Mueller, Dead-time problems, Nucl. Instrum. Methods 112 (1973) 47-57. Parts that a feeder
lets go at even intervals do not come at random: for them compare the interval with the time that
a part is in the beam (`viscount.barrier`).

Rates are in 1/s, scalars or arrays.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import lambertw

from viscount.errors import UsageError

Floats = NDArray[np.float64]


def counted_rate(true_hz: ArrayLike, dead_s: float, *, paralyzable: bool) -> Floats:
    """Return the rate that a counter shows at a true rate."""
    n = np.asarray(true_hz, dtype=np.float64)
    return n * np.exp(-n * dead_s) if paralyzable else n / (1.0 + n * dead_s)


def lost_share(true_hz: ArrayLike, dead_s: float, *, paralyzable: bool) -> Floats:
    """Return the share of events, 0 to 1, that a counter does not show."""
    n = np.asarray(true_hz, dtype=np.float64)
    x = n * dead_s
    return np.asarray(-np.expm1(-x) if paralyzable else x / (1.0 + x))


def true_rate(counted_hz: float, dead_s: float) -> float:
    """Return the true rate behind the rate of a non-paralyzable counter: m / (1 - m tau).

    Raises
    ------
    UsageError
        Where no true rate gives as much.
    """
    if counted_hz * dead_s >= 1.0:
        raise UsageError(
            f"{counted_hz:g} counts a second with a dead time of {dead_s:g} s",
            allowed=f"less than {1.0 / dead_s:g} counts a second",
        )
    return counted_hz / (1.0 - counted_hz * dead_s)


def true_rates_paralyzable(counted_hz: float, dead_s: float) -> tuple[float, float]:
    """Return both true rates behind the rate of a paralyzable counter, the lower first.

    The solutions of m = n exp(-n tau) are n = -W(-m tau) / tau, on the two real branches of
    Lambert's W (Corless et al., Adv. Comput. Math. 5 (1996) 329-359).

    Raises
    ------
    UsageError
        Where no true rate gives as much.
    """
    if counted_hz * dead_s > np.exp(-1.0):
        raise UsageError(
            f"{counted_hz:g} counts a second with a dead time of {dead_s:g} s",
            allowed=f"at most {np.exp(-1.0) / dead_s:g} counts a second",
        )
    if counted_hz == 0.0:
        return 0.0, float("inf")
    low, high = (float(np.real(lambertw(-counted_hz * dead_s, k))) for k in (0, -1))
    return -low / dead_s, -high / dead_s


def chance_of_shorter_gap(true_hz: ArrayLike, dead_s: ArrayLike) -> Floats:
    """Return the chance that the next event comes within `dead_s` of one."""
    n = np.asarray(true_hz, dtype=np.float64)
    return np.asarray(-np.expm1(-n * np.asarray(dead_s, dtype=np.float64)))
