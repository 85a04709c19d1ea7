"""What the beam sees of parts that fall through it.

A beam of width w switches when the fraction t of its light is lost. A part of length L is one
pulse of ``(L + w (1 - 2 t)) / v``: the light lost grows from nothing to L or w and falls back
over L + w, and is more than t w for so long. It gives no pulse where L is below t w, and two
parts are one pulse where the clear distance between them is below (1 - t) w.
"""

from dataclasses import dataclass

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
    if beam.width_mm is None:
        if beam.threshold != 0.5:
            return unknown
        longer = 0.0
        blocks, apart = True, at.gap_mm > 0
    else:
        longer = beam.width_mm * (1.0 - 2.0 * beam.threshold)
        blocks = length_mm >= beam.threshold * beam.width_mm
        apart = at.gap_mm >= (1.0 - beam.threshold) * beam.width_mm
    dark = (length_mm + longer) / at.speed_mm_s
    return BeamRow(
        pair=at.pair,
        dark_s=dark if blocks else 0.0,
        clear_s=max(at.interval_s - dark, 0.0) if blocks and apart else 0.0,
    )
