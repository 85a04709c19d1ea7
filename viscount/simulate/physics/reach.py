"""How far parts reach from their centres of mass, as they are turned at a moment."""

from dataclasses import dataclass

import numpy as np

from viscount.simulate.physics.legs import Array
from viscount.simulate.physics.turning import Tops
from viscount.simulate.scene import AnyPart, Scene
from viscount.simulate.solids import projected


@dataclass(frozen=True, slots=True)
class Extent:
    """How far a part reaches up, down, to the left and to the right of its centre of mass, mm."""

    back: float
    front: float
    left: float
    right: float


class Reaches:
    """The extents of the parts of a scene, each worked out once."""

    def __init__(self, scene: Scene, tops: Tops, lip_s: Array) -> None:
        self._scene, self._tops, self._lip_s = scene, tops, lip_s
        self._known: dict[tuple[int, bytes], Extent] = {}

    def at(self, k: int, t_s: float, still_s: float = np.inf) -> Extent:
        """Return the extent of part `k` at a time, or at `still_s` where that is earlier."""
        age = min(t_s, still_s) - self._lip_s[k] if self._tops.turns(k) else 0.0
        rotation = self._tops.rotation(k, np.array(age))
        key = (k % len(self._scene.parts), rotation.tobytes())
        if key not in self._known:
            self._known[key] = extent(self._scene.part(k), rotation)
        return self._known[key]


def extent(part: AnyPart, rotation: Array) -> Extent:
    """Return how far a part that is turned like this reaches."""
    seen = projected(part, rotation)
    return Extent(
        back=seen.reach(-1.0, 0.0),
        front=seen.reach(1.0, 0.0),
        left=seen.reach(0.0, -1.0),
        right=seen.reach(0.0, 1.0),
    )
