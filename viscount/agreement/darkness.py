"""How likely parts that arrive at given moments make given pulses: densities in 1/us.

Each function gives the density of the pulses' edges: the first start against the arrival, every
later edge against the part's outline.
"""

import math
from collections.abc import Sequence
from itertools import pairwise, product

from viscount.agreement.events import Dark, Due
from viscount.agreement.outline import Outline, Way

ROOT_TWO_PI = math.sqrt(2.0 * math.pi)
WIDE_SHARE, WIDE_FACTOR = 0.02, 5.0
"""So many times are off by more than their sigma says, by so much."""
ODD_SHARE = 0.005
ODD_REACH = 4.0
"""So many single parts darken the beam for any time up to so many usual ones, or get stuck."""
ANY_LENGTH = math.log(20_000.0 / 20.0)
"""A pulse of unknown origin lasts anything from 0.02 to 20 ms, each doubling alike."""
CLEAR_SHARE = 0.4
"""Two parts may be one pulse where the clear time between them is less than about this share of a
part's own, unless the caller knows better."""
UNKNOWN_SPLIT = 0.02
"""Chance that a part of which nothing is known gives two pulses, and within which time."""
MOST_WAYS = 32


def normal(off: float, sigma: float) -> float:
    """Return the normal density."""
    z = off / sigma
    return math.exp(-0.5 * z * z) / (sigma * ROOT_TWO_PI) if -38.0 < z < 38.0 else 0.0


def any_length(length_us: float) -> float:
    """Return the density of a pulse's length of which nothing is known."""
    return 1.0 / (max(length_us, 1.0) * ANY_LENGTH)


def meeting(due: Due, dark: Dark) -> float:
    """Return the density of a pulse's start against the arrival."""
    off = dark.start_us - due.at_us
    if dark.loose:
        low = -due.reach_us - (dark.end_us - dark.start_us)
        high = due.reach_us + (due.own.usual_us or due.reach_us)
        return 1.0 / (high - low) if low <= off <= high else 0.0
    if not due.own.latest_us:
        return _near(off, due.sigma_us)
    # Of a pulse whose length is not its own, any way may have begun it.
    return sum(
        way.chance
        * _near(off - way.start, math.hypot(due.sigma_us, way.lead_sigma, 0.5 * way.sigma))
        for way in due.own.ways
    ) / sum(way.chance for way in due.own.ways)


def made(due: Due, dark: Dark) -> float:
    """Return the density of a pulse's start and length if this part made it alone."""
    own = due.own
    if not own.known or dark.loose or not own.latest_us:
        return meeting(due, dark) * single(own, dark)
    length = dark.end_us - dark.start_us
    return sum(_lasting(way, length) * _begun(due, dark, way, length) for way in own.ways)


def _begun(due: Due, dark: Dark, way: Way, whole: float) -> float:
    """Return the density of the first start, if darks this long in all are of this way."""
    off = dark.start_us - due.at_us - way.lead(whole)
    return _near(off, math.hypot(due.sigma_us, way.lead_sigma))


def _near(off: float, sigma: float) -> float:
    near = (1.0 - WIDE_SHARE) * normal(off, sigma)
    return near + WIDE_SHARE * normal(off, WIDE_FACTOR * sigma)


def single(own: Outline, dark: Dark) -> float:
    """Return the density of a pulse's length if one part made it alone."""
    length = dark.end_us - dark.start_us
    if not own.known or dark.loose:
        return any_length(length)
    return sum(_lasting(way, length) for way in own.ways)


def _lasting(way: Way, length: float) -> float:
    """Return the density of one pulse's length if its part went this way."""
    usual = way.whole
    found = 0.0
    if len(way.darks) == 1:
        found = (1.0 - ODD_SHARE) * way.chance * normal(length - usual, way.sigma)
    odd = 1.0 / (ODD_REACH * usual) if length < ODD_REACH * usual else any_length(length)
    return found + ODD_SHARE * way.chance * odd


def clump(own: Outline, dark: Dark, parts: int) -> float:
    """Return the density of a pulse's length if `parts` overlapping ones made it."""
    length = dark.end_us - dark.start_us
    usual = own.usual_us
    if usual is None or dark.loose:
        return any_length(length)
    low, high = 0.8 * usual, (1.2 * parts) * usual
    return 1.0 / (high - low) if low <= length <= high else 0.0


def split(due: Due, darks: Sequence[Dark]) -> float:
    """Return the density of several pulses of one part, the first start included."""
    if not due.own.known or darks[0].loose or not due.own.latest_us:
        start = meeting(due, darks[0])
        return start * shape(due.own, darks) if start else 0.0
    whole = darks[-1].end_us - darks[0].start_us
    ways = [way for way in due.own.ways if len(way.darks) == len(darks)]
    return sum(_begun(due, darks[0], way, whole) * _following(way, darks) for way in ways)


def shape(own: Outline, darks: Sequence[Dark]) -> float:
    """Return the density of all edges but the first start, if one part made these pulses."""
    if not own.known:
        if len(darks) != 2 or darks[1].start_us - darks[0].start_us > own.span_us:
            return 0.0
        lengths = [any_length(dark.end_us - dark.start_us) for dark in darks]
        return UNKNOWN_SPLIT * lengths[0] * lengths[1] / own.span_us
    return sum(_following(way, darks) for way in own.ways if len(way.darks) == len(darks))


def _following(way: Way, darks: Sequence[Dark]) -> float:
    """Return the density of all edges but the first start, if their part went this way."""
    density = way.chance
    edges = [edge for dark in way.darks for edge in dark]
    seen = [edge for dark in darks for edge in (dark.start_us, dark.end_us)]
    for k in range(1, len(edges)):
        off = (seen[k] - seen[k - 1]) - (edges[k] - edges[k - 1])
        density *= (1 - ODD_SHARE) * normal(off, way.sigma) + ODD_SHARE / (ODD_REACH * way.whole)
    return density


def beside(due: Due, darks: Sequence[Dark]) -> float:
    """Return the density of as many pulses as parts, if the camera took these parts for one."""
    usual = due.own.usual_us or due.reach_us
    early = due.sigma_us + 0.5 * usual * (len(darks) - 1)
    density = normal(darks[0].start_us - due.at_us, early)
    for dark, after in pairwise(darks):
        density *= single(due.own, dark)
        off = after.start_us - dark.start_us
        density *= 1.0 / (2.0 * usual) if off <= 2.0 * usual else 0.0
    return density * single(due.own, darks[-1])


def entangled(dues: Sequence[Due], darks: Sequence[Dark], clear_us: float | None) -> float:
    """Return the density of pulses that several parts of several darks each made together."""
    ways = [due.own.ways for due in dues]
    if not all(ways) or math.prod(len(each) for each in ways) > MOST_WAYS:
        return 0.0
    return sum(_together(dues, chosen, darks, clear_us) for chosen in product(*ways))


def _together(
    dues: Sequence[Due], ways: Sequence[Way], darks: Sequence[Dark], clear_us: float | None
) -> float:
    spans = sorted(
        (due.at_us + start, due.at_us + end, math.hypot(due.sigma_us, way.sigma))
        for due, way in zip(dues, ways, strict=True)
        for start, end in way.darks
    )
    density = math.prod(way.chance for way in ways)
    pieces = [spans[0]]
    gaps: list[float] = []
    for start, end, sigma in spans[1:]:
        gaps.append(start - pieces[-1][1])
        pieces.append((start, max(end, pieces[-1][1]), sigma))
    surplus = len(pieces) - len(darks)
    if surplus < 0:
        return 0.0
    # The closest ones are those that the beam takes for one.
    joined = set(sorted(range(len(gaps)), key=lambda k: gaps[k])[:surplus])
    most = least_clear(min(end - start for start, end, _ in spans), clear_us)
    unions: list[list[float]] = []
    for k, (start, end, sigma) in enumerate(pieces):
        if k and k - 1 in joined:
            density *= still_dark(gaps[k - 1], most, sigma)
            unions[-1][1:] = [max(end, unions[-1][1]), unions[-1][2], sigma]
        else:
            unions.append([start, end, sigma, sigma])
    first = math.hypot(dues[0].sigma_us, ways[0].lead_sigma)
    if dues[0].own.latest_us and not darks[0].loose:
        density *= _near(darks[0].start_us - dues[0].at_us - ways[0].start, first)
    else:
        density *= meeting(dues[0], darks[0])
    for k, (union, dark) in enumerate(zip(unions, darks, strict=True)):
        if density < 1e-60:
            return 0.0
        if k:
            density *= normal(dark.start_us - union[0], union[2])
        density *= normal(dark.end_us - union[1], union[3])
    return density


def least_clear(usual_us: float, clear_us: float | None) -> float:
    """Return for how long the beam must be clear between two parts to tell them apart, about."""
    return CLEAR_SHARE * usual_us if clear_us is None else clear_us


def still_dark(clear_us: float, most_us: float, sigma_us: float) -> float:
    """Return the chance that a beam takes two parts for one, from the clear time between them."""
    sure = max(clear_us - 2.0 * sigma_us, 0.0)
    if sure == 0.0:
        return 1.0
    scale = max(most_us, sigma_us)
    return math.exp(-((sure / scale) ** 2))
