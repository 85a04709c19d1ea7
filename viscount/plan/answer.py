"""The whole answer: what parts come to at each height, and what is needed to see and cut them."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from viscount.plan.camera import (
    READOUT_RATIO,
    SHARP_SHARE,
    WHOLE_SIGHTINGS,
    CameraRow,
    Shot,
    camera_row,
    least_height_mm,
    time_in_view_s,
)
from viscount.plan.cut import Cut, Gate, cut
from viscount.plan.stream import Drop, HeightRow, Magazine, Pair, Steady

BEAM_THRESHOLD = 0.5
"""Share of its light at whose loss a beam is taken to switch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One figure that is needed, and what is there.

    `enough` is None where what is there, or what is needed, is not known. `least` says whether
    it is the least that will do, or the most.
    """

    what: str
    unit: str
    least: bool
    needed: float | None
    given: float | None

    @property
    def enough(self) -> bool | None:
        """Whether what is there will do."""
        if self.needed is None or self.given is None:
            return None
        return self.given >= self.needed if self.least else self.given <= self.needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """All there is to say; `camera` speaks of the counting line."""

    heights: tuple[HeightRow, ...]
    gap_ceiling_s: Mapping[str, float]
    camera: tuple[CameraRow, ...]
    cuts: tuple[Cut, ...]
    needs: tuple[Need, ...]


def answer(
    *,
    stream: Magazine | Steady,
    drop: Drop,
    length_mm: float,
    places_mm: Mapping[str, float],
    shot: Shot,
    beam_width_mm: float | None = None,
    gate: Gate | None = None,
) -> Answer:
    """Work out everything that what is known allows.

    Parameters
    ----------
    places_mm : height below the lip of the lip itself (0), and of line, beam and blade where
        they are known.
    """
    pairs = stream.pairs()
    rows = [
        drop.row(pair, place, below, length_mm)
        for pair in pairs
        for place, below in places_mm.items()
    ]
    ceilings = {}
    if isinstance(stream, Magazine):
        ceilings = {pair.label: drop.gap_ceiling_s(stream, pair) for pair in pairs}
    at = {(row.pair, row.place): row for row in rows}
    seen_at = "line" if "line" in places_mm else "lip"
    camera = [
        camera_row(drop, shot, pair, at[pair.label, seen_at], length_mm)
        for pair in pairs
        if seen_at == "line"
    ]
    cuts = [
        cut(
            pair=pair.label,
            interval_s=at[pair.label, "beam"].interval_s,
            speed_mm_s=drop.speed_mm_s(
                pair.second_mm_s, max(places_mm["beam"] - length_mm / 2, 0.0)
            ),
            beam_to_blade_mm=places_mm["blade"] - places_mm["beam"],
            length_mm=length_mm,
            acceleration_mm_s2=drop.acceleration_mm_s2,
            gate=gate,
        )
        for pair in pairs
        if "beam" in places_mm and "blade" in places_mm
    ]
    needs = [
        *_camera_needs(drop, shot, pairs, [at[p.label, seen_at] for p in pairs], length_mm),
        *_beam_needs([r for r in rows if r.place == "beam"], beam_width_mm),
        *_gate_needs([r for r in rows if r.place == "blade"], cuts, gate),
    ]
    return Answer(
        heights=tuple(rows),
        gap_ceiling_s=ceilings,
        camera=tuple(camera),
        cuts=tuple(cuts),
        needs=tuple(needs),
    )


def _camera_needs(
    drop: Drop, shot: Shot, pairs: list[Pair], rows: list[HeightRow], length_mm: float
) -> list[Need]:
    """Return what the camera must be able to do for the hardest of the pairs."""
    times = [time_in_view_s(drop, shot, pair, length_mm) for pair in pairs]
    known = [time for time in times if time is not None]
    rate = None
    if known:
        rate = WHOLE_SIGHTINGS / min(known) if min(known) > 0 else math.inf
    gap = max(min(row.gap_s for row in rows), 0.0)
    fastest = max(row.speed_mm_s for row in rows)
    heights = [least_height_mm(drop, shot, pair, length_mm) for pair in pairs]
    tall = max((h for h in heights if h is not None), default=None)
    scale = shot.scale_px_per_mm
    line_time = READOUT_RATIO / (fastest * scale) if scale and fastest else None
    finite = rate if rate is None or math.isfinite(rate) else None
    return [
        _need("frame rate", "1/s", True, finite, shot.fps),
        _need("exposure, for sharp parts", "us", False, SHARP_SHARE * gap, shot.exposure_s, 1e6),
        _need("exposure, to see them apart", "us", False, gap, shot.exposure_s, 1e6),
        _need("view along the fall", "mm", True, tall, shot.height_mm),
        _need("line time along the fall", "us", False, line_time, shot.line_time_s, 1e6),
    ]


def _beam_needs(rows: list[HeightRow], width_mm: float | None) -> list[Need]:
    """Return what the beam's sensor must be able to do.

    Two parts are one pulse where the clear distance is below (1 - threshold) times the width,
    or the clear time below what the sensor needs to answer.
    """
    if not rows:
        return []
    tightest = min(rows, key=lambda row: row.gap_mm)
    widest = max(tightest.gap_mm, 0.0) / (1 - BEAM_THRESHOLD)
    return [
        _need("width of the beam", "mm", False, widest, width_mm),
        _need("time in which its sensor answers", "us", False, max(tightest.gap_s, 0.0), None, 1e6),
    ]


def _gate_needs(rows: list[HeightRow], cuts: list[Cut], gate: Gate | None) -> list[Need]:
    if not rows:
        return []
    gap = max(min([row.gap_s for row in rows] + [c.gap_s for c in cuts]), 0.0)
    stroke = None if gate is None else gate.shut_s[1] - gate.reach_s[0]
    return [
        _need("stroke of the gate (greatest shut less least reach)", "ms", False, gap, stroke, 1e3)
    ]


def _need(
    what: str,
    unit: str,
    least: bool,
    needed: float | None,
    given: float | None,
    factor: float = 1.0,
) -> Need:
    return Need(
        what=what,
        unit=unit,
        least=least,
        needed=None if needed is None else needed * factor,
        given=None if given is None else given * factor,
    )
