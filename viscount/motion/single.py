"""What is known of one part beforehand: how large it looks by itself, at this outlet's scale."""

from dataclasses import dataclass

EDGE_PX = 1.5
"""By so much contrast, noise and lens may move each edge of a part, from one light to another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """What single parts show: nearly all from `low` to `high`, half of them below `usual`."""

    low: float
    usual: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Single:
    """How one part looks, in px.

    Attributes
    ----------
    length, area : along the fall, and of the region; as taught, with what the exposure added.
    gyration : radius of gyration in the plane of the picture, without that.
    smear_px : by how much the exposure made those that taught it longer; less than their length.
    coarse_px : size in this picture of a pixel of the pictures that taught it.
    scale_px_per_mm : of this picture, None where unknown.
    """

    length: Span
    area: Span
    gyration: Span
    smear_px: float = 0.0
    coarse_px: float = 1.0
    scale_px_per_mm: float | None = None

    @property
    def breadth(self) -> float:
        """Mean width across the fall."""
        return self.area.usual / self.length.usual

    def rim(self, edge_px: float = EDGE_PX) -> float:
        """Return the area in px² of a rim so wide around one part."""
        return 2.0 * (self.length.usual + self.breadth) * edge_px * max(self.coarse_px, 1.0)

    def smeared(self, smear_px: float) -> float:
        """Return what such a smear adds to the area beyond what it added as the part was taught."""
        return self.breadth * max(smear_px - self.smear_px, 0.0)
