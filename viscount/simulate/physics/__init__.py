"""The motion of parts, integrated step by step from their accelerations."""

from viscount.simulate.physics.blade import Blade, Stroke
from viscount.simulate.physics.gate import Fate, Filled
from viscount.simulate.physics.meeting import overlapping
from viscount.simulate.physics.paths import Arrivals, Paths, paths

__all__ = ["Arrivals", "Blade", "Fate", "Filled", "Paths", "Stroke", "overlapping", "paths"]
