"""All that the spacing of one pour tells: at every height, along the pour, and of the feeder."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.measure.feeder_faults import Fault, FeederFault, feeder_faults
from viscount.measure.heights import Height
from viscount.measure.neighbours import Neighbours, neighbours
from viscount.measure.poured import Pour
from viscount.measure.profile import Profile, profile
from viscount.measure.rhythm import Beat, Rhythm, beat
from viscount.stream import Poured

Floats = NDArray[np.float64]

SURE = 0.9
"""A fault as sure as this is taken into the profile: an empty place, a stop."""
PITCH_SHARE = 0.02
"""A pitch is a part's own size, and that keeps to about this share of itself."""
QUARTER = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """A height with its name ("line", "lip", "beam", "blade" or "given"), in the pours' unit."""

    name: str
    height: Height
    below_lip: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtHeight:
    """A pour at one height. `usable` (n - 1,) are the pairs of two passages of one part each.

    Where an end passes the height while the part is still in the outlet, no gap is told: the law
    of the fall does not hold there.
    """

    at: At
    neighbours: Neighbours
    usable: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How a pour changes from its first quarter to its last, by medians, at the line.

    Speeds in the pour's unit each s.
    """

    first_interval_s: float
    last_interval_s: float
    first_speed: float
    last_speed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectiveAcceleration:
    """Of a column, in mm/s², with the pitch in mm that it rests on and what tells that pitch.

    `by` is "part file" or "speeds". Both with standard uncertainties.
    """

    mm_s2: float
    sigma_mm_s2: float
    pitch_mm: float
    sigma_pitch_mm: float
    by: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PourSpacing:
    """One pour.

    Attributes
    ----------
    run : number of its tally, from 0. pour : what it was measured from.
    heights : the line first, then the others.
    beat : what kind of stream it is. trend : None below four pairs.
    profile : None where the stream is no column, or too short.
    acceleration : None without a profile in mm.
    faults : in order of time.
    """

    run: int
    pour: Pour
    heights: tuple[AtHeight, ...]
    beat: Beat
    trend: Trend | None
    profile: Profile | None
    acceleration: EffectiveAcceleration | None
    faults: tuple[FeederFault, ...]

    @property
    def acceleration_of_each(self) -> Floats:
        """(n,) effective acceleration up to each part, mm/s²; NaN where not known."""
        if self.profile is None or self.acceleration is None:
            return np.full(len(self.pour.poured), np.nan)
        since = self.profile.t_s - self.profile.start_s
        with np.errstate(invalid="ignore", divide="ignore"):
            found = 2.0 * self.profile.number * self.acceleration.pitch_mm / since**2
        return np.where(since > 0.0, found, np.nan)


def pour_spacing(
    pour: Pour, heights: Sequence[At], *, run: int, lip: Height | None, pitch_mm: float | None
) -> PourSpacing:
    """Measure one pour.

    Parameters
    ----------
    heights : the line first. lip : None where unknown. pitch_mm : in the stack; None likewise.
    """
    poured = pour.poured
    single = pour.parts == 1
    usable = single[1:] & single[:-1]
    made = tuple(
        AtHeight(at=at, neighbours=_there(poured, at, lip), usable=usable) for at in heights
    )
    number = (pour.first_part + pour.last_part) / 2.0
    found, faults = _followed(pour, number, lip)
    fitted = None
    if found.rhythm is Rhythm.COLUMN:
        empty, pauses = _as_seen(pour, faults)
        fitted = profile(poured, number + empty, lip=lip, use=single, pauses=pauses)
    return PourSpacing(
        run=run,
        pour=pour,
        heights=made,
        beat=found,
        trend=_trend(made[0]),
        profile=fitted,
        acceleration=_acceleration(fitted, poured.unit, pitch_mm),
        faults=faults,
    )


def _there(poured: Poured, at: At, lip: Height | None) -> Neighbours:
    found = neighbours(poured, at.height.below_line, sigma_height=at.height.sigma)
    if lip is None or lip.unit != poured.unit:
        return found
    # A head is at this height when its centre is still above the lip.
    inside = at.height.below_line - poured.ahead[1:] < lip.below_line
    unknown = np.where(inside, np.nan, 0.0)
    return replace(found, gap_s=found.gap_s + unknown, sigma_gap_s=found.sigma_gap_s + unknown)


def _followed(
    pour: Pour, number: Floats, lip: Height | None
) -> tuple[Beat, tuple[FeederFault, ...]]:
    """Return what the intervals follow where the parts leave, and what does not follow it.

    At the lip where that is known: on the way down from there the fast ones catch up.
    """
    poured = pour.poured
    at = neighbours(poured)
    fell = lip is not None and lip.unit == poured.unit and poured.acceleration > 0.0
    if fell and lip is not None and len(poured) > 1:
        there = neighbours(poured, lip.below_line)
        # Where speeds say that parts never were that high, the lip is no use.
        if bool(np.all(there.interval_s > 0.0) and np.median(there.speed) > 0.0):
            at = there
    found = beat(at.interval_s, number)
    # What two passages are off together is no matter of the feeder's.
    own_s = np.minimum(at.sigma_interval_s, found.expected_s)
    faults = feeder_faults(
        found,
        at.interval_s,
        own_s,
        poured.t_s,
        pour.first_part,
        pour.parts,
        poured.doubt,
    )
    return found, faults


def _as_seen(pour: Pour, faults: Sequence[FeederFault]) -> tuple[Floats, list[int]]:
    """Return how many places are empty before each passage, and before which the stream stood."""
    empty = np.zeros(len(pour.poured))
    pauses = []
    for fault in faults:
        at = int(np.searchsorted(pour.first_part, fault.part))
        if fault.chance < SURE:
            continue
        if fault.kind is Fault.MISSING:
            empty[at:] += 1.0
        if fault.kind is Fault.JAM or (fault.kind is Fault.SLOW and fault.parts == 1):
            pauses.append(at)
    return empty, pauses


def _trend(line: AtHeight) -> Trend | None:
    interval, speed = line.neighbours.interval_s, line.neighbours.speed
    if len(interval) < QUARTER:
        return None
    many = max(len(interval) // QUARTER, 1)
    return Trend(
        first_interval_s=float(np.median(interval[:many])),
        last_interval_s=float(np.median(interval[-many:])),
        first_speed=float(np.median(speed[:many])),
        last_speed=float(np.median(speed[-many:])),
    )


def _acceleration(
    fitted: Profile | None, unit: str, pitch_mm: float | None
) -> EffectiveAcceleration | None:
    """Return a column's acceleration by its stated pitch, or by the pitch that its speeds show."""
    if fitted is None:
        return None
    share_k = fitted.sigma_k_s / fitted.k_s
    if pitch_mm is not None:
        a = fitted.a_per_pitch_s2 * pitch_mm
        share = float(np.hypot(2.0 * share_k, PITCH_SHARE))
        return EffectiveAcceleration(
            mm_s2=a,
            sigma_mm_s2=share * a,
            pitch_mm=pitch_mm,
            sigma_pitch_mm=PITCH_SHARE * pitch_mm,
            by="part file",
        )
    if fitted.a_p is None or fitted.sigma_a_p is None or unit != "mm":
        return None
    # a p and a / p: the root of their product is a, that of their quotient p.
    share_ap = fitted.sigma_a_p / fitted.a_p
    share = float(np.hypot(share_k, share_ap / 2.0))
    a = float(np.sqrt(fitted.a_p * fitted.a_per_pitch_s2))
    pitch = float(np.sqrt(fitted.a_p / fitted.a_per_pitch_s2))
    return EffectiveAcceleration(
        mm_s2=a, sigma_mm_s2=share * a, pitch_mm=pitch, sigma_pitch_mm=share * pitch, by="speeds"
    )
