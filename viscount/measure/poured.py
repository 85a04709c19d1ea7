"""The pours of a tally as streams of parts, ready to be carried to any height."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.acceleration import acceleration_of
from viscount.outlet import Outlet
from viscount.stream import Poured
from viscount.tally import SetUp, Tally
from viscount.values import Direction, Passage

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SCALE_SHARE = 0.005
"""A scale from a ruler or a part's size is known to about this share of itself."""
LEAST_SPEED_SIGMA, MOST_SPEED_SIGMA = 0.001, 0.05
SPEED_FACTOR = 2.0
END_SIGMA_PX, UNKNOWN_END_SIGMA_PX = 0.2, 0.5
"""An end is found in the picture to about this; of a part that nobody described, to the second."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pour:
    """One pour of a tally.

    Attributes
    ----------
    number : of the pour in its tally, from 1.
    poured : its n passages with the fall; all parts of a clump are one entry.
    parts : (n,) how many parts each entry is, 1 or more.
    passages : (n,) the entries' ids in the tally.
    origin : of the acceleration, "stated" or "learned".
    """

    number: int
    poured: Poured
    parts: Ints
    passages: tuple[int, ...]
    origin: str

    @property
    def last_part(self) -> Ints:
        """(n,) number in its pour, from 1, of each entry's last part."""
        return np.cumsum(self.parts)

    @property
    def first_part(self) -> Ints:
        """(n,) number in its pour, from 1, of each entry's first part."""
        return self.last_part - self.parts + 1


def poured(tally: Tally, outlet: Outlet) -> tuple[Poured, ...]:
    """Return each pour of a tally as a stream; see `pours_of_tally`, which also numbers parts."""
    return tuple(pour.poured for pour in pours_of_tally(tally, outlet))


def pours_of_tally(tally: Tally, outlet: Outlet) -> tuple[Pour, ...]:
    """Return each pour of a tally that has parts with the fall, in order of number.

    Lengths are in mm where the scale is known, else in px. Where a tally does not say how parts
    fell, or refuses its times (a slowed clip), there is no pour that could be measured.

    Parameters
    ----------
    tally : from a run, or read back from JSON.
    outlet : that it was made with, part included: what was stated of the motion.
    """
    set_up = tally.set_up
    if set_up is None or set_up.acceleration_px_s2 is None or refuses_times(tally):
        return ()
    through = [p for p in tally.passages if _counts(p.passage)]
    everything = [p.passage for p in through]
    shared = _Shared(everything, set_up, outlet, _interval_s(tally))
    made = []
    for number in sorted({p.pour for p in through}):
        own = [p.passage for p in through if p.pour == number]
        made.append(shared.pour(number, sorted(own, key=lambda p: (p.t_ns, p.id))))
    return tuple(made)


def refuses_times(tally: Tally) -> bool:
    """Whether a tally says that its clock is not the world's."""
    said = (*tally.reasons, *tally.camera.reasons)
    return any(reason.code is Code.CAPTURE_RATE_SLOWED for reason in said)


def speed_sigma_share(passage: Passage, interval_s: float | None) -> float:
    """Return the relative uncertainty of a passage's speed.

    For a line through n places with equal errors, over the time T: the speed's sigma times T is
    root 12 of the crossing's sigma times the speed (any text on regression). The known
    acceleration and its neighbours' speeds help a passage, so that it is less.
    """
    frames = passage.last_frame - passage.first_frame
    if interval_s is None or frames < 1:
        return MOST_SPEED_SIGMA
    found = SPEED_FACTOR * 1e-9 * passage.sigma_ns / (frames * interval_s)
    return float(np.clip(found, LEAST_SPEED_SIGMA, MOST_SPEED_SIGMA))


def usual_length_px(
    passages: Sequence[Passage], outlet: Outlet, scale_px_per_mm: float | None
) -> float:
    """Return the length of one part along the fall; NaN where neither picture nor file tells."""
    lengths = [p.length_px for p in passages if p.length_px is not None and p.parts == 1]
    if lengths:
        return float(np.median(lengths))
    along = None if outlet.part is None else outlet.part.along_fall_mm
    return math.nan if along is None or scale_px_per_mm is None else along * scale_px_per_mm


class _Shared:
    """What all pours of a tally share."""

    def __init__(
        self, passages: list[Passage], set_up: SetUp, outlet: Outlet, interval_s: float | None
    ) -> None:
        scale = set_up.scale_px_per_mm
        self._interval_s = interval_s
        self._unit = "px" if scale is None else "mm"
        self._px = 1.0 if scale is None else scale
        self._scale_share = 0.0 if scale is None else SCALE_SHARE
        self._head_share = set_up.head_share
        self._usual_px = usual_length_px(passages, outlet, scale)
        self._sigma_end_px = _end_sigma_px(passages, set_up.head_share, outlet)
        self._acceleration = acceleration_of(
            passages,
            set_up.acceleration_px_s2 or 0.0,
            scale_px_per_mm=scale,
            interval_s=interval_s,
            outlet=outlet,
        )

    def pour(self, number: int, own: list[Passage]) -> Pour:
        speed = np.maximum([p.speed_px_s for p in own], 1e-9) / self._px
        share = np.array([speed_sigma_share(p, self._interval_s) for p in own])
        length = np.array([p.length_px or self._usual_px for p in own]) / self._px
        a = self._acceleration
        sigma_a = math.hypot(a.sigma_px_s2, self._scale_of(a.origin) * a.px_s2)
        return Pour(
            number=number,
            poured=Poured(
                unit=self._unit,
                t_s=np.array([1e-9 * p.t_ns for p in own]),
                sigma_s=np.array([1e-9 * p.sigma_ns for p in own]),
                speed=speed,
                sigma_speed=share * speed,
                ahead=self._head_share * length,
                behind=(1.0 - self._head_share) * length,
                sigma_end=self._sigma_end_px / self._px,
                doubt=np.array([_not_one(p) for p in own]),
                acceleration=a.px_s2 / self._px,
                sigma_acceleration=sigma_a / self._px,
                sigma_speed_share=self._scale_share,
            ),
            parts=np.array([p.parts for p in own], dtype=np.int64),
            passages=tuple(p.id for p in own),
            origin=a.origin,
        )

    def _scale_of(self, origin: str) -> float:
        """Only an acceleration that the picture taught has the scale's error in it."""
        return self._scale_share if origin == "learned" else 0.0


def _counts(passage: Passage) -> bool:
    return passage.direction is Direction.WITH and passage.parts > 0


def _not_one(passage: Passage) -> float:
    """Return the chance that a passage is not exactly one part; at least, of one of several."""
    doubt = min(max(passage.doubt, 0.0), 1.0)
    return doubt if passage.parts == 1 else 1.0 - doubt


def _interval_s(tally: Tally) -> float | None:
    rate = tally.frames.rate_hz
    return 1.0 / rate if rate else None


def _end_sigma_px(passages: Sequence[Passage], head_share: float, outlet: Outlet) -> float:
    """Return how far ends stray, by how lengths do: parts that tumble show all lengths."""
    known = outlet.part is not None and outlet.part.shape is not None
    found = END_SIGMA_PX if known else UNKNOWN_END_SIGMA_PX
    lengths = np.array([p.length_px for p in passages if p.length_px is not None and p.parts == 1])
    if lengths.size < 3:
        return found
    deviation = float(np.median(np.abs(lengths - np.median(lengths))))
    return math.hypot(found, max(head_share, 1.0 - head_share) * 1.4826 * deviation)
