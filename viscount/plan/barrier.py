"""What the beam sees of parts that fall through it, by the law of the light barrier."""

from dataclasses import dataclass

from viscount.barrier import BeamLaw
from viscount.plan.stream import HeightRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """The light barrier; what is not known is None.

    `threshold` is the share of the light, 0 to 1 without the ends, at whose loss it switches.
    `response_s` is the time that its sensor needs to answer.
    """

    width_mm: float | None = None
    threshold: float = 0.5
    response_s: float | None = None

    def widest_mm(self, gap_mm: float, length_mm: float) -> float:
        """Return the widest beam that sees such parts, and sees them apart."""
        return min(max(gap_mm, 0.0) / (1.0 - self.threshold), length_mm / self.threshold)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamRow:
    """Two parts at the beam; None where it takes the width and that is not known.

    Attributes
    ----------
    dark_s : how long one part's pulse lasts; 0 where it gives none.
    clear_s : from the end of one pulse to the start of the next; 0 where the two are one.
    """

    pair: str
    dark_s: float | None
    clear_s: float | None


def beam_row(beam: Beam, at: HeightRow, length_mm: float) -> BeamRow:
    """Return what the beam sees of two parts; `at` is their row at its height."""
    unknown = BeamRow(pair=at.pair, dark_s=None, clear_s=None)
    if at.speed_mm_s <= 0:
        return unknown
    if beam.width_mm is None and beam.threshold != 0.5:
        return unknown
    # At half of its light a beam of any width switches as a thin one does.
    law = BeamLaw(width=beam.width_mm or 0.0, threshold=beam.threshold)
    dark = law.dark(length_mm) / at.speed_mm_s
    apart = dark > 0 and law.light(at.gap_mm) > 0
    return BeamRow(
        pair=at.pair, dark_s=dark, clear_s=max(at.interval_s - dark, 0.0) if apart else 0.0
    )
