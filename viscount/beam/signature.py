"""What one part looks like to the beam: as taught, or worked out from its sizes."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viscount.barrier import BeamLaw
from viscount.beam.outlines import Lines, hexagon_lines, round_lines
from viscount.outlet.part import Part, Shape
from viscount.outlet.taught import TaughtBeam
from viscount.values import Mode, Signature

Floats = NDArray[np.float64]

OFFSETS = 400
"""Lines at so many offsets stand for all."""
BANDS = 5
"""Lines through the bore, and those beside it, are gathered in so many modes each."""
SCATTER, LEAST_SCATTER_MM = 0.03, 0.05
"""Lengths scatter by at least this share, and this much: parts tilt and differ, speeds vary."""
EVEN_SHARE = 0.005
"""Round parts are out of round, tilted and turned, so that heads stray by this share of them."""
ROUND = (Shape.WASHER, Shape.BALL)
HEAD_ONLY = 0.05
"""Chance that a ray passes a screw beside its shank, so that it meets the head alone."""
ACROSS = 0.05
"""Chance that a long part comes turned by a quarter."""


def signature_of(
    part: Part, beam: BeamLaw | None = None, *, ray: bool | None = None
) -> Signature | None:
    """Return the signature of a part, or None where nothing tells one.

    It is in mm; but in px where that is how the part was taught to the beam. What was taught
    stands over all sizes, beams and rays: it was this beam that taught it.

    Parameters
    ----------
    part : its sizes. `along_fall_mm` stands over what the shape would suggest.
    beam : the barrier, lengths in mm; a thin one where it is not known.
    ray : whether the beam is a narrow ray, which passes a part at any offset alike and can pass
        its bore; or a curtain, which sees all its extent. None where nobody knows: half and half.

    Notes
    -----
    Chances are those of geometry for offsets spread evenly over the part's breadth. A part that
    always passes in its middle gives one of the modes every time, which costs it little.
    """
    beam = beam or BeamLaw()
    if part.taught is not None and part.taught.beam is not None:
        taught = _taught(part.taught.beam, part.taught.unit)
        seen = part.taught.length.median - part.taught.smear
        return evened(taught, beam.dark(seen)) if part.shape in ROUND else taught
    whole = _extents(part)
    chords = _chords(part)
    if chords is None or ray is False:
        return _signature([(1.0, _plain(whole, beam))] if whole else [])
    by_ray = _by_ray(chords, beam)
    if ray or not whole:
        return _signature([(1.0, by_ray)])
    return _signature([(0.5, _plain(whole, beam)), (0.5, by_ray)])


def evened(signature: Signature, whole: float) -> Signature:
    """Return the signature of a round part, by how long one is dark that passes in its middle.

    Its darks begin as much after its head as they end before its tail, whatever the offset.
    """
    return replace(signature, modes=tuple(_evened(mode, whole) for mode in signature.modes))


def whole_of(part: Part, beam: BeamLaw) -> float | None:
    """Return how far a round part moves while its middle keeps the beam dark, bore and all; None
    for parts that are not round, or of unknown size."""
    size = part.diameter_mm if part.along_fall_mm is None else part.along_fall_mm
    return beam.dark(size) if part.shape in ROUND and size is not None else None


def _evened(mode: Mode, whole: float) -> Mode:
    lead = max(0.5 * (whole - mode.whole), 0.0)
    return replace(mode, lead=lead, lead_sigma=EVEN_SHARE * whole, even=True)


Modes = list[Mode]


def _taught(beam: TaughtBeam, unit: str) -> Signature:
    modes = []
    for mode in beam.modes:
        darks, lights, sigma = mode.lengths
        modes.append(Mode(chance=mode.chance, darks=darks, lights=lights, sigma=sigma))
    unseen = max(1.0 - sum(mode.chance for mode in modes), 0.0)
    return Signature(unit=unit, modes=tuple(modes), unseen=unseen)


def _signature(shares: list[tuple[float, Modes]]) -> Signature | None:
    """Mix modes by shares; what the modes' chances lack to 1 gives no pulse."""
    modes = [replace(m, chance=share * m.chance) for share, own in shares for m in own]
    if not modes:
        return None
    seen = sum(mode.chance for mode in modes)
    return Signature(unit="mm", modes=tuple(modes), unseen=max(1.0 - seen, 0.0))


def _extents(part: Part) -> list[tuple[float, float]]:
    """Return (chance, length along the fall) of a part that is seen whole."""
    along, axial, across = part.along_fall_mm, part.overall_length_mm, part.diameter_mm
    if part.shape in (Shape.WASHER, Shape.NUT) and axial is None:
        axial = part.thickness_mm
    if along is None and part.shape is Shape.NUT and across is not None:
        return _hexagon(across)
    if along is None:
        flat = part.shape in (Shape.WASHER, Shape.NUT, Shape.BALL)
        first, second = (across, axial) if flat else (axial, across)
        along = second if first is None else first
        if along is None:
            return []
    others = [size for size in (axial, across) if size is not None]
    turned = max(others, key=lambda size: abs(size - along), default=along)
    if abs(turned - along) < 0.2 * along or part.shape not in (Shape.SCREW, Shape.OTHER):
        return [(1.0, along)]
    if part.shape is Shape.SCREW and part.thickness_mm is not None and along > part.thickness_mm:
        rest = 1.0 - ACROSS - HEAD_ONLY
        return [(rest, along), (ACROSS, turned), (HEAD_ONLY, part.thickness_mm)]
    return [(1.0 - ACROSS, along), (ACROSS, turned)]


def _hexagon(across_flats: float) -> list[tuple[float, float]]:
    """Return the extents of a hexagon at any turn alike: from flat to flat up to its corners."""
    turns = (np.arange(BANDS) + 0.5) * (np.pi / 6 / BANDS)
    extents = across_flats / np.cos(np.pi / 6) * np.cos(turns)
    return [(1.0 / BANDS, float(extent)) for extent in extents]


def _plain(whole: list[tuple[float, float]], beam: BeamLaw) -> Modes:
    """Return one dark stretch for each length that is long enough for the beam."""
    return [
        Mode(chance=chance, darks=(dark,), lights=(), sigma=_scatter(length))
        for chance, length in whole
        if (dark := beam.dark(length)) > 0.0
    ]


def _chords(part: Part) -> Lines | None:
    """Return the lines across a round or hexagon part that falls with its face to the beam."""
    across, along = part.diameter_mm, part.along_fall_mm
    if across is None or part.shape not in (Shape.WASHER, Shape.NUT, Shape.BALL):
        return None
    if along is not None and part.thickness_mm is not None:
        flat = abs(along - across) <= abs(along - part.thickness_mm)
        if part.shape is not Shape.BALL and not flat:
            return None
    lines: Callable[[float, float, Floats], Lines] = (
        hexagon_lines if part.shape is Shape.NUT else round_lines
    )
    # Corners of a hexagon reach farther out than its flats.
    reach = across / 2 * (2 / 3**0.5 if part.shape is Shape.NUT else 1.0)
    return lines(across, part.bore_mm or 0.0, (np.arange(OFFSETS) + 0.5) / OFFSETS * reach)


def _by_ray(lines: Lines, beam: BeamLaw) -> Modes:
    """Gather the lines in modes: those through the bore, and those beside it."""
    lead, bore, trail = (
        np.array([law(float(x)) for x in lengths])
        for law, lengths in (
            (beam.dark, lines.lead),
            (beam.light, lines.bore),
            (beam.dark, lines.trail),
        )
    )
    through = (bore > 0) & (lead > 0) & (trail > 0)
    one = np.array([beam.dark(float(x)) for x in lines.lead + lines.bore + lines.trail])
    met = lines.lead + lines.bore + lines.trail > 0
    total = int(met.sum())
    modes = [
        _mode(len(band) / total, [lead[band], trail[band]], [bore[band]], lines.late[band])
        for band in _bands(np.flatnonzero(through), bore)
    ]
    beside = np.flatnonzero(~through & (one > 0))
    return modes + [
        _mode(len(band) / total, [one[band]], [], lines.late[band]) for band in _bands(beside, one)
    ]


def _bands(chosen: NDArray[np.intp], by: Floats) -> list[NDArray[np.intp]]:
    """Split lines into bands of equal width by a value."""
    if not len(chosen):
        return []
    low, high = by[chosen].min(), by[chosen].max()
    edges = np.linspace(low, high, BANDS + 1)[1:-1]
    band = np.searchsorted(edges, by[chosen])
    return [chosen[band == k] for k in range(BANDS) if np.any(band == k)]


def _mode(chance: float, darks: list[Floats], lights: list[Floats], late: Floats) -> Mode:
    lengths = [*darks, *lights]
    whole = np.sum(lengths, axis=0)
    # What is left of the lead once the length is known.
    own = late + 0.5 * (whole - whole.mean())
    scatter = max(float(np.std(own)) for own in lengths)
    longest = max(float(np.mean(own)) for own in lengths)
    return Mode(
        chance=chance,
        darks=tuple(float(np.mean(own)) for own in darks),
        lights=tuple(float(np.mean(own)) for own in lights),
        sigma=float(np.hypot(scatter, _scatter(longest))),
        lead=float(np.mean(own)),
        lead_sigma=float(np.hypot(np.std(own), EVEN_SHARE * np.max(whole))),
        even=True,
    )


def _scatter(length: float) -> float:
    return max(SCATTER * length, LEAST_SCATTER_MM)
