"""What falls: how fast, how close, how often seen, and how the readout takes it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from viscount import fall
from viscount.checking.figures import MotionFigures, ReadoutFigures
from viscount.checking.finding import Finding, doubt, note, refusal
from viscount.checking.followed import followed
from viscount.checking.regions import Regions
from viscount.checking.series import Series
from viscount.codes import Code
from viscount.measure.gaps import followers, gaps_px, spacings_px
from viscount.measure.readout import KEEPS_PACE, stretch
from viscount.measure.room import WHOLE_SIGHTINGS, WITH_SPEED, Room, room
from viscount.measure.standing import Standing, standing
from viscount.motion.geometry import Geometry
from viscount.motion.resting import REST_S
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.values import Passage

_LARGE = 0.3
"""Share of a part's area from which on a region is taken for one."""

_SPECK, _SHORT = 0.12, 0.4
"""Shares of a part's area and length below which a region is a speck."""

_PLACE_PX = 4.0
"""What stays within so much keeps to one place."""

_REACH_PX = 16.0
"""The furthest that a speck moves from frame to frame, if parts move no further."""

SPECKS_PER_FRAME, LEAST_SPECKS = 0.05, 10
"""Specks from which on they cost accuracy."""

_SEVERAL, _LEAST_FRAMES = 4.0, 3
"""What is cut by a side of the view, is so many times a part's area, and lies further across than
a part is long, is no part, nor two or three side by side."""

_CLOSE = 10
"""Percentile of the gaps that is called the close one."""

_ROOM = 0.5
"""Share of the way between two frames that a part needs, whole, on either side of the line."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MotionEvidence:
    """What is known of the parts; None where none was followed or seen whole."""

    parts: int
    geometry: Geometry
    speed_known: bool
    speed_px_s: float | None
    fastest_px_s: float | None
    length_px: float | None
    width_px: float | None
    area_px: float | None
    spacing_px: float | None
    gap_px: float | None
    room: Room | None
    specks: int
    reaching: tuple[int, ...]
    keeps_place: bool
    frames: int
    interval_s: float | None
    at_rest: tuple[Standing, ...]


def motion_evidence(
    passages: Sequence[Passage],
    regions: Regions,
    geometry: Geometry,
    model: SpeedModel | None,
    prior: MotionPrior,
    *,
    interval_s: float | None,
    frames: int,
) -> MotionEvidence:
    """Put together what passages, regions and the learned motion say of the parts."""
    speed_known = prior.speed_px_s is not None
    if model is not None and not (model.learned or speed_known):
        model = None
    area = part_area(regions)
    large = regions.whole["area"] >= _LARGE * (area or np.inf)
    length = _median(regions.whole["along"][large])
    width = _median(regions.whole["across"][large])
    longest = max(length or 0.0, width or 0.0)
    pairs = followers(passages, width) if width is not None else []
    spacings, gaps = spacings_px(pairs), gaps_px(pairs)
    speed = float(np.median(model.speed)) if model is not None else None
    fastest = around = None
    if model is not None and speed is not None:
        ends = np.array([geometry.top, geometry.bottom])
        fastest = float(fall.speed_at(speed, model.acceleration, ends).max())
        if length is not None and interval_s:
            around = room(
                top_px=geometry.top,
                bottom_px=geometry.bottom,
                length_px=length,
                # Whatever else moves may have taught another speed than the parts'.
                speed_px_s=prior.speed_px_s or speed,
                acceleration_px_s2=model.acceleration,
                interval_s=interval_s,
            )
    bend = model.acceleration * interval_s**2 if model is not None and interval_s else 0.0
    bend *= geometry.falls.sign
    contrast = part_contrast(regions)
    lying: tuple[Standing, ...] = ()
    if area is not None and contrast is not None:
        lying = standing(regions.level, area_px=area, contrast=contrast)
    return MotionEvidence(
        parts=sum(passage.parts for passage in passages),
        geometry=geometry,
        speed_known=speed_known,
        speed_px_s=speed,
        fastest_px_s=fastest,
        length_px=length,
        width_px=width,
        area_px=area,
        spacing_px=_median(spacings),
        gap_px=float(np.percentile(gaps, _CLOSE)) if gaps.size else None,
        room=around,
        specks=_specks(
            regions,
            area or 0.0,
            longest,
            reach_px=max(_REACH_PX, around.step_px if around is not None else 0.0),
            bend_px=(0.0, bend) if geometry.falls.vertical else (bend, 0.0),
        ),
        reaching=_reaching(regions, area, longest),
        keeps_place=_keeps_place(regions, area, interval_s),
        interval_s=interval_s,
        frames=frames,
        at_rest=lying,
    )


def _specks(
    regions: Regions, area: float, length: float, reach_px: float, bend_px: tuple[float, float]
) -> int:
    """Return how many specks were seen to move; at one place they are counted once.

    A flat part seen edge-on is small, but as long as ever.
    """
    whole = regions.whole
    longer = np.maximum(whole["along"], whole["across"])
    small = (whole["area"] < _SPECK * area) & (longer < _SHORT * length)
    places = np.column_stack([whole["x"][small], whole["y"][small]])
    frames = whole["frame"][small].astype(np.int64)
    places = places[followed(frames, places, reach_px=reach_px, bend_px=bend_px)]
    return len(np.unique(np.rint(places / _PLACE_PX), axis=0))


def _keeps_place(regions: Regions, area: float | None, interval_s: float | None) -> bool:
    """Return whether something as large as a part keeps to one place for as long as parts at
    rest must, however that place may be rounded.
    """
    large = regions.whole["area"] >= _LARGE * (area or np.inf)
    places = np.column_stack([regions.whole["x"][large], regions.whole["y"][large]])
    _, often = np.unique(np.rint(places / _PLACE_PX), axis=0, return_counts=True)
    return 2 * float(often.max(initial=0)) * (interval_s or 0.0) >= REST_S


def _reaching(regions: Regions, area: float | None, length: float) -> tuple[int, ...]:
    """Return the frames in which something much larger than a part reaches in from a side."""
    large = regions.reaching["area"] > _SEVERAL * (area or np.inf)
    frames = regions.reaching["frame"][large & (regions.reaching["across"] > length)]
    return tuple(np.unique(frames.astype(int)).tolist())


def part_area(regions: Regions) -> float | None:
    """Return the area such that half of all foreground lies in larger whole regions."""
    areas = np.sort(regions.whole["area"])
    if not areas.size:
        return None
    filled = np.cumsum(areas)
    return float(areas[int(np.searchsorted(filled, filled[-1] / 2))])


def large_rows(regions: Regions, table: Series) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Return which rows of a table with a column `area` are of parts, not specks or pieces."""
    area = part_area(regions)
    return np.asarray(table["area"] >= (_LARGE * area if area is not None else 0.0))


def part_contrast(regions: Regions) -> float | None:
    """Return by how many grey a usual part differs from what is behind it."""
    return _median(regions.sharp["contrast"][large_rows(regions, regions.sharp)])


def _median(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else None


def motion_figures(met: MotionEvidence) -> MotionFigures:
    """Return the figures."""
    step = met.room.step_px if met.room is not None else None
    share = step / met.spacing_px if step is not None and met.spacing_px else None
    return MotionFigures(
        parts=met.parts,
        speed_px_s=met.speed_px_s,
        length_px=met.length_px,
        width_px=met.width_px,
        spacing_px=met.spacing_px,
        gap_px=met.gap_px,
        step_px=step,
        step_of_spacing=share,
        whole_sightings=None if met.room is None else met.room.whole_sightings,
        room_before_px=None if met.room is None else met.room.before_px,
        room_after_px=None if met.room is None else met.room.after_px,
        specks_per_frame=met.specks / met.frames if met.frames else None,
        at_rest=len(met.at_rest),
    )


def motion_findings(met: MotionEvidence) -> Iterator[Finding]:
    """Yield what there is to say."""
    if met.room is not None:
        yield from _sightings(met, met.room)
        yield from _line(met.room)
    if met.specks >= max(LEAST_SPECKS, SPECKS_PER_FRAME * met.frames):
        found = f"{met.specks} specks in {met.frames} frames, each smaller than an eighth of a part"
        yield doubt(Code.SPECKS_IN_VIEW, found, f"less than one in {1 / SPECKS_PER_FRAME:g} frames")
    if len(met.reaching) >= _LEAST_FRAMES:
        found = f"something larger than {_SEVERAL:g} parts reaches in from a side of the view in "
        found += f"{len(met.reaching)} frames, the first is frame {met.reaching[0]}"
        where = f"frame {met.reaching[0]}"
        yield doubt(Code.LARGE_IN_VIEW, found, "nothing in the view but what falls", where)
    for one in met.at_rest:
        found = f"something of a part's size and contrast lies still at ({one.x_px:.0f}, "
        found += f"{one.y_px:.0f}) through the whole clip"
        yield doubt(Code.PART_AT_REST, found, "a view with nothing in it but what falls")


def _sightings(met: MotionEvidence, around: Room) -> Iterator[Finding]:
    least = WITH_SPEED if met.speed_known else WHOLE_SIGHTINGS
    if around.whole_sightings >= least:
        return
    say = refusal if around.whole_sightings < 1 else doubt
    found = (
        f"each part is whole in view in {around.whole_sightings:.1f} frames; it moves "
        f"{around.step_px:.0f} px from frame to frame"
    )
    yield say(Code.TOO_FEW_SIGHTINGS, found, f"{least:g} and more")


def _line(around: Room) -> Iterator[Finding]:
    least = _ROOM * around.step_px
    sides = {"above": around.before_px, "below": around.after_px}
    for side, px in sides.items():
        if px < least:
            found = f"parts are whole for {max(px, 0.0):.0f} px {side} the line"
            expected = f"{least:.0f} px and more, half the way from frame to frame"
            yield doubt(Code.LINE_NEAR_EDGE, found, expected)


def readout_figures(met: MotionEvidence, *, line_time_us: float | None) -> ReadoutFigures:
    """Return the figures; `line_time_us` is None where the outlet file gives none."""
    geometry = met.geometry
    along = None
    pace = None
    if line_time_us is not None:
        along = geometry.line_time_s > 0 and geometry.readout.vertical == geometry.falls.vertical
        if met.fastest_px_s is not None:
            with_fall = geometry.readout.sign == geometry.falls.sign
            pace = met.fastest_px_s * geometry.line_time_s * (1 if with_fall else -1)
            pace = pace if along else 0.0
    return ReadoutFigures(
        line_time_us=line_time_us,
        along_fall=along,
        pace=pace,
        # Where a part keeps pace there is no end to it.
        stretch=None if pace is None or pace >= 1 else stretch(pace, 1.0),
    )


def readout_findings(read: ReadoutFigures) -> Iterator[Finding]:
    """Yield what there is to say of the rolling shutter."""
    if not read.along_fall or read.pace is None:
        return
    way = "with" if read.pace > 0 else "against"
    longer = "" if read.stretch is None else f", parts look {read.stretch:.2f} times as long"
    found = f"speed times line time comes to {abs(read.pace):.2f} {way} the fall{longer}"
    if abs(read.pace) > KEEPS_PACE:
        say = refusal if read.pace > 0 else doubt
        yield say(Code.READOUT_KEEPS_PACE, found, f"at most {KEEPS_PACE:g}")
    else:
        yield note(Code.READOUT_ALONG_FALL, found)
