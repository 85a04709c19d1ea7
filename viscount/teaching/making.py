"""From single parts to what is taught of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.errors import TeachingError
from viscount.outlet.taught import VERSION, Chance, Profile, Taught, TaughtBeam, TaughtMode
from viscount.teaching.lesson import Lesson
from viscount.teaching.modes import modes_of
from viscount.teaching.singles import AtBeam
from viscount.teaching.statistics import chance, measured, reaches_pairs, rounded
from viscount.values import Level, Mode, Notice

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Teaching:
    """What single parts taught. `warnings` are worth knowing, and change nothing."""

    taught: Taught
    warnings: tuple[Notice, ...]


def teaching(
    lessons: Sequence[Lesson],
    beams: Sequence[Sequence[AtBeam]] | None,
    scale_px_per_mm: float | None,
) -> Teaching:
    """Return what single parts taught.

    Parameters
    ----------
    lessons : as `require_singles` let them pass.
    beams : for each lesson what each of its parts did to the beam; None without a beam.
    scale_px_per_mm : of the pictures; None where unknown, and then all is in px.

    Raises
    ------
    TeachingError
        where by no measure one part could be told from two.
    """
    scale = 1.0 if scale_px_per_mm is None else scale_px_per_mm
    unit = "px" if scale_px_per_mm is None else "mm"
    seen = [one for lesson in lessons for one in lesson.seen]
    areas = np.array([one.look.area for one in seen]) / scale**2
    lengths = np.array([one.look.length for one in seen]) / scale
    sharp = [s.look.sharp(one.growth) for one in lessons for s in one.seen]
    radii = np.array([look.gyration for look in sharp]) / scale
    smear = lengths - np.array([look.length for look in sharp]) / scale
    profiles = np.array([one.profile for one in seen])
    middle = np.median(profiles, axis=0)
    middle = middle / middle.max()
    mad = np.median(np.abs(profiles - middle), axis=0)
    own = [] if beams is None else [part for each in beams for part in each]
    pulses = np.array([_pulse(part) / scale for part in own if part.pulses])
    measures = {f"area in {unit}²": areas}
    if beams is not None:
        if not pulses.size:
            raise TeachingError(
                f"none of the {len(own)} parts interrupted the beam",
                remedy="check the beam's width and height, and drop the parts again",
            )
        measures[f"pulse length in {unit}"] = pulses
    warnings = _require_telling(measures)
    taught = Taught.model_validate(
        {
            "version": VERSION,
            "singles": len(seen),
            **({} if scale_px_per_mm is None else {"scale_px_per_mm": scale_px_per_mm}),
            f"area_{unit}2": measured(areas),
            f"length_{unit}": measured(lengths),
            f"gyration_{unit}": measured(radii),
            f"smear_{unit}": rounded(float(np.median(smear))),
            "profile": Profile(
                median=tuple(round(float(x), 4) for x in middle),
                mad=tuple(round(float(min(x, 1.0)), 4) for x in mad),
            ),
            **({} if beams is None else {"beam": _beam(own, pulses, unit, scale)}),
        }
    )
    return Teaching(taught=taught, warnings=warnings)


def _require_telling(measures: Mapping[str, Floats]) -> tuple[Notice, ...]:
    """Refuse parts of which no measure tells one from two; return what to say of the others."""
    said = {
        name: f"{name}: one part up to {found[0]:.4g}, two together from {found[1]:.4g}"
        for name, values in measures.items()
        if (found := reaches_pairs(values)) is not None
    }
    if len(said) == len(measures):
        with_beam = "; or teach with --beam" if len(measures) == 1 else ""
        raise TeachingError(
            f"single parts differ so much that two look like one ({'; '.join(said.values())})",
            allowed="a measure by which two parts differ from one",
            remedy=f"let parts fall one way round, as they do from the outlet{with_beam}",
        )
    return tuple(
        Notice(level=Level.INFO, code=Code.SINGLES_LIKE_PAIRS, text=text, where=name)
        for name, text in said.items()
    )


def _pulse(part: AtBeam) -> float:
    """Return how far a part moved from its first dark to its last, in px."""
    return (part.pulses[-1].end_ns - part.pulses[0].start_ns) * 1e-9 * part.speed


def _beam(own: Sequence[AtBeam], pulses: Floats, unit: str, scale: float) -> TaughtBeam:
    def did(several: int) -> Chance:
        return chance(sum(len(part.pulses) == several for part in own), len(own))

    return TaughtBeam.model_validate(
        {
            "parts": len(own),
            f"pulse_{unit}": measured(pulses),
            "one_pulse": did(1),
            "two_pulses": did(2),
            "unseen": did(0),
            "modes": tuple(_mode(mode, unit) for mode in modes_of(own, unit, scale)),
        }
    )


def _mode(mode: Mode, unit: str) -> TaughtMode:
    lengths: dict[str, object] = {
        f"darks_{unit}": tuple(rounded(x) for x in mode.darks),
        f"sigma_{unit}": rounded(mode.sigma),
    }
    if mode.lights:
        lengths[f"lights_{unit}"] = tuple(rounded(x) for x in mode.lights)
    return TaughtMode.model_validate({"chance": rounded(mode.chance), **lengths})
