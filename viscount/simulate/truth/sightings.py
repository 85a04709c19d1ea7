"""Which parts each frame shows, where, and how well."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.drawing import Studio, Visible
from viscount.simulate.drawing.moments import own_moments
from viscount.simulate.geometry import Upright
from viscount.simulate.light import Lighting
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.sensor import noise_sigma
from viscount.simulate.timeline import FrameTime
from viscount.simulate.truth.places import DIRECTIONS, Shape, Shapes
from viscount.simulate.truth.values import FrameTruth, Seen

Array = NDArray[np.float64]

LENS_SIGMAS = 1.6
"""An edge blurred by the lens reaches so many sigmas farther: 5 % of the contrast are left."""

ROUNDING = 1 / math.sqrt(12)


class Sightings:
    """Looks at a scene's frames with the eyes of the truth."""

    def __init__(
        self, scene: Scene, paths: Paths, up: Upright, shapes: Shapes, studio: Studio
    ) -> None:
        self._scene, self._paths, self._up = scene, paths, up
        self._shapes, self._studio = shapes, studio
        self._light = Lighting(scene.light, up)

    def frame(self, time: FrameTime) -> FrameTruth:
        """Return what one delivered frame shows."""
        visible = {p: v for p, v in self._studio.visible(time).items() if v.inside > 0}
        parts = np.array(sorted(visible), dtype=np.intp)
        return FrameTruth(
            number=time.number,
            shows=time.shows,
            t_ns=time.t_ns,
            file_t_ns=time.file_t_ns,
            new=time.new,
            seen=self._seen(time, parts, visible) if len(parts) else (),
        )

    def _seen(
        self, time: FrameTime, parts: NDArray[np.intp], visible: dict[int, Visible]
    ) -> tuple[Seen, ...]:
        up, paths, t_s = self._up, self._paths, time.shown_t_ns * 1e-9
        t = own_moments(paths, up, parts, t_s)
        shapes = [self._shapes.at(int(p), float(x)) for p, x in zip(parts, t, strict=True)]
        place, rate = paths.along(parts, t)
        across, depth = paths.across(parts, t), paths.depth(parts, t)
        row, column = up.place(place, across, depth, t)
        speed = rate * up.scale_at(place, across, depth)
        offset = np.array([s.offset for s in shapes])
        stretch = 1 / np.maximum(np.abs(1 - up.line_s_per_row * speed), 1e-3)
        row = row + offset[:, 0] * stretch + speed * up.line_s_per_column * offset[:, 1]
        column = column + offset[:, 1]
        smear = np.abs(speed) * time.exposure_s * stretch
        clear = self._clear(shapes, row, column, stretch, smear)
        sigma = self._noise(time)
        x, y = up.image(row, column)
        return tuple(
            Seen(
                part=int(p),
                x_px=float(x[i]),
                y_px=float(y[i]),
                whole=self._whole(shapes[i], row[i], column[i], stretch[i], smear[i]),
                visible=visible[int(p)].share,
                clear_px=None if math.isinf(clear[i]) else float(clear[i]),
                contrast_sigma=self._contrast(visible[int(p)], time, sigma),
            )
            for i, p in enumerate(parts)
        )

    def _whole(self, shape: Shape, row: float, column: float, stretch: float, smear: float) -> bool:
        up = self._up
        margin = smear / 2 + 0.5 * stretch
        first, last = max(-0.5, up.lip) - 0.5, up.rows
        inside = row - shape.back * stretch - margin >= first
        inside = inside and row + shape.front * stretch + margin <= last
        return bool(
            inside and column - shape.left >= -0.5 and column + shape.right <= up.columns - 0.5
        )

    def _clear(
        self, shapes: list[Shape], row: Array, column: Array, stretch: Array, smear: Array
    ) -> Array:
        """Return each part's background to its nearest neighbour: (n,), inf where it is alone.

        The distance of two convex outlines is the greatest, over all directions, of what
        separates them in that direction.
        """
        if len(shapes) < 2:
            return np.full(len(shapes), np.inf)
        lens = LENS_SIGMAS * self._scene.camera.blur_px
        along = np.abs(DIRECTIONS[:, 0])
        # How far each reaches in each direction: stretched along the fall, smeared, blurred.
        reach = np.array([s.stretched(x) for s, x in zip(shapes, stretch.tolist(), strict=True)])
        reach += along * smear[:, None] / 2 + lens
        centres = row[:, None] * DIRECTIONS[:, 0] + column[:, None] * DIRECTIONS[:, 1]
        ahead = centres + reach
        behind = centres - np.roll(reach, 8, axis=1)
        gaps: Array = np.max(behind[None, :, :] - ahead[:, None, :], axis=2)
        gaps = np.maximum(gaps, gaps.T)
        np.fill_diagonal(gaps, np.inf)
        nearest: Array = gaps.min(axis=1)
        return nearest

    def _noise(self, time: FrameTime) -> float:
        level = self._level(time)
        return math.hypot(
            noise_sigma(self._scene.camera, level * self._scene.camera.background_grey), ROUNDING
        )

    def _level(self, time: FrameTime) -> float:
        if self._light.steady:
            return time.gain
        t_s = time.shown_t_ns * 1e-9
        return float(self._light.level(t_s, time.exposure_s).mean()) * time.gain

    def _contrast(self, visible: Visible, time: FrameTime, sigma: float) -> float:
        """Return a part's contrast in sigmas; an uneven background takes twice its own off."""
        texture = self._scene.surroundings.texture
        uneven = 2 * texture.contrast if texture else 0.0
        contrast = abs(visible.grey - self._scene.camera.background_grey) - uneven
        return max(contrast, 0.0) * self._level(time) / sigma
