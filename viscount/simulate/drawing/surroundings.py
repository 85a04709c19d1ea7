"""Everything in the view beside the parts, laid into a picture."""

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.barrier import lit_s
from viscount.simulate.drawing.bystanders import (
    BladeInView,
    Bystander,
    Hand,
    Insect,
    Ledge,
    Rim,
    Signal,
    Specks,
)
from viscount.simulate.drawing.lens import blurred, reach_px
from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.shake import shift_px

Picture = NDArray[np.float32]
Rows = NDArray[np.float64]


class Furniture:
    """The bystanders of one scene."""

    def __init__(self, scene: Scene, paths: Paths, up: Upright) -> None:
        self._scene, self._up = scene, up
        self._all = _bystanders(scene, paths, up)

    @property
    def behind(self) -> bool:
        """Whether anything stands behind the parts."""
        return any(not bystander.in_front for bystander in self._all)

    def lay(self, picture: Picture, t_s: float, *, in_front: bool) -> None:
        """Lay what stands in front of the parts, or behind them, into a picture."""
        rows, columns = self._shaken(picture.shape, t_s)
        for bystander in self._all:
            if bystander.in_front is in_front:
                cover = bystander.cover(rows, columns, t_s)
                if cover is not None:
                    cover = _soft(cover, self._scene.camera.blur_px)
                    picture += cover * (np.float32(bystander.grey(t_s)) - picture)

    def hidden(self, rows: Rows, columns: Rows, t_s: float) -> Picture:
        """Return the share of each pixel that something in front of the parts covers."""
        along, across = shift_px(self._scene.surroundings, t_s)
        hidden = np.zeros((rows.size, columns.size), dtype=np.float32)
        for bystander in self._all:
            if bystander.in_front:
                cover = bystander.cover(rows - along, columns - across, t_s)
                if cover is not None:
                    hidden = np.maximum(hidden, cover)
        return hidden

    @property
    def in_front(self) -> bool:
        """Whether anything ever stands in front of the parts."""
        return any(bystander.in_front for bystander in self._all)

    def _shaken(self, shape: tuple[int, ...], t_s: float) -> tuple[Rows, Rows]:
        along, across = shift_px(self._scene.surroundings, t_s)
        rows = np.arange(shape[0], dtype=np.float64)[:, None] - along
        return rows, np.arange(shape[1], dtype=np.float64)[None, :] - across


def _soft(cover: Picture, sigma: float) -> Picture:
    """Return a cover as the lens shows it; nothing but the pixels around it is computed."""
    if not sigma or not cover.any():
        return cover
    pad, box = reach_px(sigma), []
    for axis in (0, 1):
        (there,) = np.nonzero(cover.any(axis=1 - axis))
        box.append(slice(max(there[0] - pad, 0), there[-1] + 1 + pad))
    soft, inside = np.zeros_like(cover), (box[0], box[1])
    soft[inside] = blurred(cover[inside], sigma, "nearest")
    return soft


def _bystanders(scene: Scene, paths: Paths, up: Upright) -> list[Bystander]:
    around, grey = scene.surroundings, scene.camera.part_grey
    found: list[Bystander] = [
        Ledge(resting, scene.part(i), grey, up) for i, resting in enumerate(around.resting)
    ]
    if scene.beam and scene.beam.lamp:
        found.append(Signal(scene.beam.lamp, up, lit_s(scene, paths)))
    if scene.gate and scene.gate.lamp and paths.gate:
        found.append(Signal(scene.gate.lamp, up, paths.gate.driven_s()))
    if around.dust:
        found.append(Specks(around.dust, up, scene.seed))
    found += [
        Hand(intruder, up) if intruder.kind == "hand" else Insect(intruder, up)
        for intruder in around.intruders
    ]
    if scene.gate and scene.gate.visible:
        found.append(BladeInView(scene.gate, paths, up))
    if around.bag:
        found.append(Rim(around.bag, up))
    return found
