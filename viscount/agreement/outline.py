"""What one part should do to the beam at its own speed: darks in us from its arrival."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

from viscount.values import Mode, Signature

US_PER_MS = 1000.0
UNKNOWN_SPAN_US = 10_000.0
"""Where nothing is known of the part, its pulses may be spread over this long."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to darken the beam: (start, end) of each dark, and the lengths' sigma, in us.

    `lead_sigma` is that of the first start; see `viscount.values.Mode` for `even`.
    """

    chance: float
    darks: tuple[tuple[float, float], ...]
    sigma: float
    lead_sigma: float = 0.0
    even: bool = False

    @property
    def start(self) -> float:
        """When the beam goes dark first, from the head's arrival."""
        return self.darks[0][0]

    @property
    def end(self) -> float:
        """When the beam is clear for good."""
        return self.darks[-1][1]

    @property
    def whole(self) -> float:
        """From first to last."""
        return self.end - self.start

    def lead(self, whole: float) -> float:
        """Return when darks that are so long in all begin, from the head's arrival."""
        return self.start + 0.5 * (self.whole - whole) if self.even else self.start


@dataclass(frozen=True, slots=True)
class Outline:
    """The ways of one part; none where nothing is known.

    Attributes
    ----------
    unseen : the chance of no pulse.
    span_us : from a part's arrival to the start of the last pulse that it may give.
    usual_us : how long one part keeps the beam dark, from first to last, in its likeliest way.
    several : whether a single part may give several pulses.
    latest_us : from a part's arrival to the latest start of its first pulse.
    """

    ways: tuple[Way, ...] = ()
    unseen: float = 0.0
    span_us: float = UNKNOWN_SPAN_US
    usual_us: float | None = None
    several: bool = False
    latest_us: float = 0.0

    @property
    def known(self) -> bool:
        """Whether anything is known."""
        return self.usual_us is not None


UNKNOWN = Outline()


def outline(signature: Signature | None, speed: float | None) -> Outline:
    """Return what a part does to the beam at `speed` (the signature's length unit per second)."""
    if signature is None or not signature.modes:
        return UNKNOWN
    if signature.unit == "ms":
        return _outline(signature, US_PER_MS)
    if speed is None or speed <= 0:
        return Outline(unseen=signature.unseen)
    return _outline(signature, 1e6 / speed)


@lru_cache(maxsize=4096)
def _outline(signature: Signature, us_per_unit: float) -> Outline:
    ways = tuple(_way(mode, us_per_unit) for mode in signature.modes)
    return Outline(
        ways=ways,
        unseen=signature.unseen,
        span_us=max(way.darks[-1][0] for way in ways),
        usual_us=max(ways, key=lambda way: way.chance).whole,
        several=any(len(way.darks) > 1 for way in ways),
        latest_us=max(way.start for way in ways),
    )


def _way(mode: Mode, us_per_unit: float) -> Way:
    lengths: Sequence[float] = [
        us_per_unit * length
        for pair in zip(mode.darks, (*mode.lights, 0.0), strict=True)
        for length in pair
    ]
    edges = [*accumulate([us_per_unit * mode.lead, *lengths])]
    darks = tuple((edges[k], edges[k + 1]) for k in range(0, 2 * len(mode.darks), 2))
    sigma = max(us_per_unit * mode.sigma, 1.0)
    return Way(mode.chance, darks, sigma, us_per_unit * mode.lead_sigma, mode.even)
