"""The pours of a tally as streams of parts, ready to be carried to any height."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.acceleration import acceleration_of
from viscount.measure.lengths import lengths_of
from viscount.measure.own_sigma import off_middle_s, own_sigma
from viscount.outlet import Outlet, Shape
from viscount.stream import Poured
from viscount.tally import SetUp, Tally
from viscount.values import Direction, Passage

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SCALE_SHARE = 0.005
"""A scale from a ruler or a part's size is known to about this share of itself."""
END_SIGMA_PX, UNKNOWN_END_SIGMA_PX = 0.2, 0.5
"""An end is found in the picture to about this; of a part that nobody described, to the second."""


TURN_RAD_S = 0.9
"""Parts turn as they fall, by some 50 degrees a second; an end that swings by that comes sooner or
later by as much as half the part's greatest size does."""


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
    by_pour: dict[int, list[Passage]] = {}
    for p in through:
        by_pour.setdefault(p.pour, []).append(p.passage)
    return tuple(
        shared.pour(number, sorted(by_pour[number], key=lambda p: (p.t_ns, p.id)))
        for number in sorted(by_pour)
    )


def refuses_times(tally: Tally) -> bool:
    """Whether a tally says that its clock is not the world's."""
    said = (*tally.reasons, *tally.camera.reasons)
    return any(reason.code is Code.CAPTURE_RATE_SLOWED for reason in said)


class _Shared:
    """What all pours of a tally share."""

    def __init__(
        self, passages: list[Passage], set_up: SetUp, outlet: Outlet, interval_s: float | None
    ) -> None:
        scale = set_up.scale_px_per_mm
        self._unit = "px" if scale is None else "mm"
        self._px = 1.0 if scale is None else scale
        self._scale_share = 0.0 if scale is None else SCALE_SHARE
        self._head_share = set_up.head_share
        self._outlet, self._interval_s = outlet, interval_s
        self._lengths = lengths_of(passages, outlet, scale)
        self._length_px = dict(zip((p.id for p in passages), self._lengths.px, strict=True))
        self._acceleration = acceleration_of(
            passages,
            set_up.acceleration_px_s2 or 0.0,
            scale_px_per_mm=scale,
            interval_s=interval_s,
            outlet=outlet,
        )
        self._off_axis_px = _off_axis_px(set_up, outlet)
        self._off_s = off_middle_s(passages, interval_s)

    def pour(self, number: int, own: list[Passage]) -> Pour:
        """Return the pour of these passages, which are in order."""
        speed = np.maximum([p.speed_px_s for p in own], 1e-9) / self._px
        sigma = own_sigma(
            own,
            self._interval_s,
            length_spread_px=self._lengths.spread_px,
            usual_length_px=self._lengths.usual_px,
            part=self._outlet.part,
            off_axis_px=self._off_axis_px,
        )
        length = np.array([self._length_px[p.id] for p in own]) / self._px
        a = self._acceleration
        sigma_a = math.hypot(a.sigma_px_s2, self._scale_of(a.origin) * a.px_s2) / self._px
        turned = sigma_a * abs(self._off_s) / float(np.median(speed))
        return Pour(
            number=number,
            poured=Poured(
                unit=self._unit,
                t_s=np.array([1e-9 * p.t_ns for p in own]),
                sigma_s=sigma.t_s,
                speed=speed,
                sigma_speed=sigma.speed_share * speed,
                ahead=self._head_share * length,
                behind=(1.0 - self._head_share) * length,
                sigma_end=self._sigma_end_px() / self._px,
                doubt=np.array([_not_one(p) for p in own]),
                acceleration=a.px_s2 / self._px,
                sigma_acceleration=sigma_a,
                sigma_speed_share=math.hypot(self._scale_share, turned),
                sigma_end_rate=TURN_RAD_S * self._longest_px() / 2.0 / self._px,
            ),
            parts=np.array([p.parts for p in own], dtype=np.int64),
            passages=tuple(p.id for p in own),
            origin=a.origin,
        )

    def _longest_px(self) -> float:
        """Return the greatest size of a part: as stated, else as seen; 0 of one that is a ball."""
        part, usual = self._outlet.part, self._lengths.usual_px
        if part is not None and part.shape is Shape.BALL:
            return 0.0
        sizes = () if part is None else (part.overall_length_mm, part.diameter_mm)
        stated = [size for size in sizes if size is not None]
        if stated and self._unit == "mm":
            return max(stated) * self._px
        return usual if math.isfinite(usual) else 0.0

    def _sigma_end_px(self) -> float:
        """Return how far an end may be off: lengths stray, and all are off together.

        From one part's tail to the next one's head the two ends make one length.
        """
        known = self._outlet.part is not None and self._outlet.part.shape is not None
        found = END_SIGMA_PX if known else UNKNOWN_END_SIGMA_PX
        larger = max(self._head_share, 1.0 - self._head_share)
        lengths = self._lengths
        together = lengths.sigma_px / math.sqrt(2.0)
        return math.sqrt(found**2 + (larger * lengths.spread_px) ** 2 + together**2)

    def _scale_of(self, origin: str) -> float:
        """Only an acceleration that the picture taught has the scale's error in it."""
        return self._scale_share if origin == "learned" else 0.0


def _off_axis_px(set_up: SetUp, outlet: Outlet) -> float:
    """Return how far the line is from the middle of the view, about which the picture grows."""
    region, along = outlet.view.region_px, 1 if set_up.falls.vertical else 0
    start = 0.0 if region is None else float(region[along])
    return set_up.line_px - start - set_up.view_px / 2.0


def _counts(passage: Passage) -> bool:
    return passage.direction is Direction.WITH and passage.parts > 0


def _not_one(passage: Passage) -> float:
    """Return the chance that a passage is not exactly one part; at least, of one of several."""
    doubt = min(max(passage.doubt, 0.0), 1.0)
    return doubt if passage.parts == 1 else 1.0 - doubt


def _interval_s(tally: Tally) -> float | None:
    rate = tally.frames.rate_hz
    return 1.0 / rate if rate else None
