"""Solid parts, and the outlines that they show from any side."""

from viscount.simulate.solids.body import inertia_ratio, rotation_at_rest
from viscount.simulate.solids.outline import Outline
from viscount.simulate.solids.projection import Projection, projected

__all__ = ["Outline", "Projection", "inertia_ratio", "projected", "rotation_at_rest"]
