"""The whole answer: what parts come to at each height, and what is needed to see and cut them."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from viscount.plan.barrier import Beam, BeamRow, beam_row
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

NEAREST_STEP = 0.5
"""Above this share of the spacing, the nearest part in the next frame is another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One figure that is needed, and what is there.

    `enough` is None where what is there, or what is needed, is not known. `least` says whether
    it is the least that will do, or the most; a least that is infinite cannot be met. `name` is
    for programs, `what` for people.
    """

    name: str
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
    """All there is to say; `camera` speaks of the counting line.

    `empty_s` is when the last part of a column has left; None in a steady stream.
    """

    empty_s: float | None
    heights: tuple[HeightRow, ...]
    gap_ceiling_s: Mapping[str, float]
    camera: tuple[CameraRow, ...]
    beam: tuple[BeamRow, ...]
    cuts: tuple[Cut, ...]
    needs: tuple[Need, ...]


def answer(
    *,
    stream: Magazine | Steady,
    drop: Drop,
    length_mm: float,
    places_mm: Mapping[str, float],
    shot: Shot,
    beam: Beam | None = None,
    gate: Gate | None = None,
) -> Answer:
    """Work out everything that what is known allows.

    Parameters
    ----------
    places_mm : height below the lip of the lip itself (0), and of line, beam and blade where
        they are known.
    """
    pairs, beam = stream.pairs(), beam or Beam()
    rows = [
        drop.row(pair, place, below, length_mm)
        for pair in pairs
        for place, below in places_mm.items()
    ]
    at_line, at_beam, at_blade = (
        [row for row in rows if row.place == place] for place in ("line", "beam", "blade")
    )
    column = stream if isinstance(stream, Magazine) else None
    beam_rows = [beam_row(beam, row, length_mm) for row in at_beam]
    cuts = [one for pair in pairs if (one := _cut(drop, pair, places_mm, length_mm, gate))]
    return Answer(
        empty_s=column.empty_s if column else None,
        heights=tuple(rows),
        gap_ceiling_s={p.label: drop.gap_ceiling_s(column, p, length_mm) for p in pairs}
        if column
        else {},
        camera=tuple(
            camera_row(drop, shot, pair, row, length_mm)
            for pair in pairs
            for row in at_line
            if row.pair == pair.label
        ),
        beam=tuple(beam_rows),
        cuts=tuple(cuts),
        needs=(
            *_sighting_needs(drop, shot, pairs, places_mm.get("line"), length_mm),
            *_line_needs(drop, shot, pairs, at_line),
            *_beam_needs(beam, at_beam, beam_rows, length_mm),
            *_gate_needs(at_blade, cuts, gate),
        ),
    )


def _cut(
    drop: Drop, pair: Pair, places_mm: Mapping[str, float], length_mm: float, gate: Gate | None
) -> Cut | None:
    """Return the window of the cut, or None where the beam cannot tell it.

    It takes a blade below the beam, and parts that fall freely once their heads are there.
    """
    if not {"beam", "blade"} <= set(places_mm):
        return None
    centre = places_mm["beam"] - length_mm / 2
    below = places_mm["blade"] - places_mm["beam"]
    if centre < 0 or below <= 0:
        return None
    first, second = pair.first_mm_s, pair.second_mm_s
    return cut(
        pair=pair.label,
        interval_s=pair.interval_s + drop.time_s(second, centre) - drop.time_s(first, centre),
        first_mm_s=drop.speed_mm_s(first, centre),
        second_mm_s=drop.speed_mm_s(second, centre),
        beam_to_blade_mm=below,
        length_mm=length_mm,
        acceleration_mm_s2=drop.acceleration_mm_s2,
        gate=gate,
    )


def _sighting_needs(
    drop: Drop, shot: Shot, pairs: list[Pair], line_mm: float | None, length_mm: float
) -> list[Need]:
    """Return what it takes to see even the fastest part whole often enough."""
    times = [time_in_view_s(drop, shot, pair, length_mm) for pair in pairs]
    shortest = min((time for time in times if time is not None), default=None)
    rate = None
    if shortest is not None:
        rate = WHOLE_SIGHTINGS / shortest if shortest > 0 else math.inf
    heights = [least_height_mm(drop, shot, pair, length_mm, line_mm) for pair in pairs]
    tall = max((height for height in heights if height is not None), default=None)
    return [
        Need(
            name="frame_rate_for_sightings",
            what="frame rate, for three whole sightings",
            unit="1/s",
            least=True,
            needed=rate,
            given=shot.fps,
        ),
        Need(
            name="view_height",
            what="view along the fall, for as many",
            unit="mm",
            least=True,
            needed=tall,
            given=shot.height_mm,
        ),
    ]


def _line_needs(drop: Drop, shot: Shot, pairs: list[Pair], rows: list[HeightRow]) -> list[Need]:
    """Return what the hardest pair at the counting line asks of the camera."""
    nearest = gap = line_time = None
    if rows:
        nearest = 1.0 / (NEAREST_STEP * min(row.interval_s for row in rows))
        gap = max(min(row.gap_s or 0.0 for row in rows), 0.0)
        fastest = max(drop.speed_mm_s(pair.second_mm_s, rows[0].below_lip_mm) for pair in pairs)
        if shot.scale_px_per_mm and fastest:
            line_time = READOUT_RATIO / (fastest * shot.scale_px_per_mm)
    return [
        Need(
            name="frame_rate_for_nearness",
            what="frame rate, to follow parts without their speed",
            unit="1/s",
            least=True,
            needed=nearest,
            given=shot.fps,
        ),
        _most_us(
            "exposure_sharp",
            "exposure, for sharp parts",
            None if gap is None else SHARP_SHARE * gap,
            shot.exposure_s,
        ),
        _most_us("exposure_apart", "exposure, to see them apart", gap, shot.exposure_s),
        _most_us(
            "line_time", "line time, where lines run along the fall", line_time, shot.line_time_s
        ),
    ]


def _beam_needs(
    beam: Beam, rows: list[HeightRow], seen: list[BeamRow], length_mm: float
) -> list[Need]:
    """Return what the beam must be like for the hardest pair; both its times must be answered."""
    if not rows:
        return []
    times = [time for row in seen for time in (row.dark_s, row.clear_s)]
    known = [time for time in times if time is not None]
    return [
        Need(
            name="beam_width",
            what="width of the beam",
            unit="mm",
            least=False,
            needed=beam.widest_mm(min(row.gap_mm for row in rows), length_mm),
            given=beam.width_mm,
        ),
        _most_us(
            "beam_response",
            "response time of the beam's sensor",
            min(known) if len(known) == len(times) else None,
            beam.response_s,
        ),
    ]


def _gate_needs(rows: list[HeightRow], cuts: list[Cut], gate: Gate | None) -> list[Need]:
    if not rows:
        return []
    gap = max(min([row.gap_s or 0.0 for row in rows] + [one.gap_s for one in cuts]), 0.0)
    return [
        Need(
            name="gate_stroke",
            what="stroke of the gate (greatest shut less least reach)",
            unit="ms",
            least=False,
            needed=gap * 1e3,
            given=None if gate is None else (gate.shut_s[1] - gate.reach_s[0]) * 1e3,
        )
    ]


def _most_us(name: str, what: str, needed_s: float | None, given_s: float | None) -> Need:
    return Need(
        name=name,
        what=what,
        unit="us",
        least=False,
        needed=None if needed_s is None else needed_s * 1e6,
        given=None if given_s is None else given_s * 1e6,
    )
