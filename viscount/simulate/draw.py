"""Pictures of falling parts, from the share of each pixel that they cover.

Each line of the picture is drawn at its own time, and averaged over its exposure in steps of
less than a quarter of a pixel. Parts hide what lies behind them; the lip hides what has not
yet left. Nothing but the pixels around each part is computed.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from viscount.simulate.geometry import upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.silhouette import Silhouette, silhouette

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

STEP_PX = 0.25
CHUNK = 16
BLUR_REACH = 4.0


@dataclass(frozen=True, slots=True)
class _Drawn:
    """One part to draw: its outline in px, its greys, and its number among the paths.

    A part at rest has a fixed place in upright px instead.
    """

    outline: Silhouette
    radius: float
    contrast: float
    glint: float
    glint_contrast: float
    part: int
    resting: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class _Window:
    """Upright rows [top, bottom) and columns [left, right), and the parts drawn in it."""

    top: int
    bottom: int
    left: int
    right: int
    parts: tuple[_Drawn, ...]

    def touches(self, other: "_Window") -> bool:
        """Whether the two share a pixel."""
        apart = self.bottom <= other.top or other.bottom <= self.top
        beside = self.right <= other.left or other.right <= self.left
        return not (apart or beside)

    def joined(self, other: "_Window") -> "_Window":
        """Return the window around both."""
        return _Window(
            min(self.top, other.top),
            max(self.bottom, other.bottom),
            min(self.left, other.left),
            max(self.right, other.right),
            self.parts + other.parts,
        )


class Studio:
    """Draws the frames of one scene; frame k's pixels depend on the scene and k alone."""

    def __init__(self, scene: Scene, paths: Paths) -> None:
        self._scene = scene
        self._paths = paths
        self._up = upright(scene)
        self._parts = [self._drawn(k, k) for k in range(paths.count)]
        self._radii = np.array([p.radius for p in self._parts])

    def noiseless(self, t_s: float) -> Picture:
        """Return the upright picture of a frame with time `t_s`, in grey levels."""
        scene, up = self._scene, self._up
        background = scene.camera.background_grey
        picture = np.full((up.rows, up.columns), background, dtype=np.float32)
        for window in self._windows(t_s):
            self._add(picture, window, self._contrast(window, t_s))
        return picture * self._light(t_s)

    def frame(self, t_s: float, k: int) -> NDArray[np.uint8]:
        """Return frame `k`, with time `t_s`, as the camera delivers it: uint8, (H, W)."""
        picture = self.noiseless(t_s)
        noise = self._scene.camera.noise
        if noise:
            seeds = np.random.SeedSequence(self._scene.seed, spawn_key=(1, k))
            grain = np.random.default_rng(seeds).standard_normal(picture.shape, dtype=np.float32)
            picture += np.float32(noise) * grain
        levels = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
        return self._up.turned(levels)

    def _drawn(self, k: int, part: int, resting: tuple[float, float] | None = None) -> _Drawn:
        shape, camera = self._scene.part(k), self._scene.camera
        outline = silhouette(shape, self._up.scale)
        grey = camera.part_grey if shape.grey is None else shape.grey
        glint = camera.background_grey if shape.glint_grey is None else shape.glint_grey
        return _Drawn(
            outline=outline,
            radius=outline.radius,
            contrast=grey - camera.background_grey,
            glint=shape.glint_mm * self._up.scale,
            glint_contrast=glint - camera.background_grey,
            part=part,
            resting=resting,
        )

    def _windows(self, t_s: float) -> list[_Window]:
        """Return the windows to draw; parts whose own windows touch are drawn together."""
        separate: list[_Window] = []
        for window in self._single_windows(t_s):
            for other in [w for w in separate if w.touches(window)]:
                separate.remove(other)
                window = other.joined(window)
            separate.append(window)
        return separate

    def _single_windows(self, t_s: float) -> list[_Window]:
        """Return a window around each part that may show in the frame."""
        up, found = self._up, []
        for k in np.flatnonzero(self._may_show(t_s)):
            window = self._around(self._parts[k], t_s)
            if window:
                found.append(window)
        for i, rest in enumerate(self._scene.resting):
            if rest.from_s <= t_s < rest.until_s:
                place = (up.along_row(rest.along_px), rest.across_px)
                drawn = self._drawn(i, -1, place)
                reach = drawn.radius + 1
                top, left = math.floor(place[0] - reach), math.floor(place[1] - reach)
                bottom, right = math.ceil(place[0] + reach) + 1, math.ceil(place[1] + reach) + 1
                found.append(_Window(top, bottom, left, right, (drawn,)))
        return found

    def _may_show(self, t_s: float) -> NDArray[np.bool_]:
        """Whether each part is out of the lip and within its own size of the view."""
        paths, up = self._paths, self._up
        each = np.arange(paths.count)
        corners = up.delay(np.array([[0.0], [up.rows]]), np.array([[0.0, up.columns]]))
        early = np.full(paths.count, t_s + corners.min() - up.exposure_s)
        late = np.full(paths.count, t_s + corners.max() + up.exposure_s)
        reach = self._radii + BLUR_REACH * self._scene.camera.blur_px + 1
        let_go = (late >= paths.lip_s) | (paths.lip_speed_mm_s > 0)
        entered = up.row(paths.along(each, late)[0]) > max(up.lip, 0.0) - reach
        left = up.row(paths.along(each, early)[0]) > up.rows + reach
        shows: NDArray[np.bool_] = let_go & entered & ~left
        return shows

    def _around(self, drawn: _Drawn, t_s: float) -> _Window | None:
        """Find the pixels that a part can touch while their own lines are exposed."""
        up, reach = self._up, drawn.radius + 1
        pad = BLUR_REACH * self._scene.camera.blur_px
        edges = (-pad, up.rows - 1 + pad, -pad, up.columns - 1 + pad)
        top, bottom, left, right = edges
        half = up.exposure_s / 2
        for _ in range(12):
            delays = up.delay(np.array([[top], [bottom]]), np.array([[left, right]]))
            times = t_s + np.array([delays.min() - half, delays.max() + half])
            rows = up.row(self._paths.along(drawn.part, times)[0])
            columns = up.column(self._paths.across(drawn.part, times))
            top, bottom = max(edges[0], rows.min() - reach), min(edges[1], rows.max() + reach)
            left = max(edges[2], columns.min() - reach)
            right = min(edges[3], columns.max() + reach)
            if top > bottom or left > right:
                return None
            if not (up.line_s_per_row or up.line_s_per_column):
                break
        floor = math.floor
        return _Window(floor(top), floor(bottom) + 2, floor(left), floor(right) + 2, (drawn,))

    def _contrast(self, window: _Window, t_s: float) -> Picture:
        """Return grey levels above the background in `window`, averaged over the exposure."""
        rows = np.arange(window.top, window.bottom, dtype=np.float64)[:, None]
        columns = np.arange(window.left, window.right, dtype=np.float64)[None, :]
        delay = self._up.delay(
            rows if self._up.line_s_per_row else 0.0,
            columns if self._up.line_s_per_column else 0.0,
        )
        delay = np.atleast_2d(delay)
        steps = max(self._steps(p, t_s + float(delay.mean())) for p in window.parts)
        offsets = ((np.arange(steps) + 0.5) / steps - 0.5) * self._up.exposure_s
        total = np.zeros((rows.size, columns.size), dtype=np.float32)
        beyond_lip = np.clip(rows - self._up.lip + 0.5, 0.0, 1.0).astype(np.float32)
        for start in range(0, steps, CHUNK):
            times = t_s + delay + offsets[start : start + CHUNK, None, None]
            total += self._instants(window.parts, times, rows, columns, beyond_lip).sum(axis=0)
        return total / np.float32(steps)

    def _steps(self, drawn: _Drawn, t_s: float) -> int:
        """Return how many instants of the exposure keep every point's step below STEP_PX."""
        if drawn.resting is not None or not self._up.exposure_s:
            return 1
        paths, at = self._paths, np.array([t_s])
        speed = abs(float(paths.along(drawn.part, at)[1][0])) * self._up.scale
        across = abs(float(paths.drift_mm_s[drawn.part])) * self._up.scale
        rim = abs(float(paths.spin_rad_s[drawn.part])) * drawn.radius
        return max(1, math.ceil((speed + across + rim) * self._up.exposure_s / STEP_PX))

    def _instants(
        self,
        parts: tuple[_Drawn, ...],
        times: Array,
        rows: Array,
        columns: Array,
        beyond_lip: Picture,
    ) -> Picture:
        """Return (instants, rows, columns): each instant's contrast, nearer parts in front."""
        shape = (len(times), rows.size, columns.size)
        seen_through = np.ones(shape, dtype=np.float32)
        contrast = np.zeros(shape, dtype=np.float32)
        for drawn in parts:
            u, v = self._own(drawn, times, rows, columns)
            cover = drawn.outline.cover(u, v).astype(np.float32, copy=False)
            if drawn.resting is None:
                cover = cover * beyond_lip
            cover = np.minimum(cover, seen_through)
            seen_through -= cover
            contrast += cover * np.float32(drawn.contrast)
            if drawn.glint:
                half = np.float32(drawn.glint / 2)
                band = np.clip(half + np.float32(0.5) - np.abs(u), 0.0, 1.0)
                contrast += cover * band * np.float32(drawn.glint_contrast - drawn.contrast)
        return contrast

    def _own(
        self, drawn: _Drawn, times: Array, rows: Array, columns: Array
    ) -> tuple[Picture, Picture]:
        """Return every pixel's place in the part's own coordinates, in px."""
        paths, up = self._paths, self._up
        if drawn.resting is not None:
            down, beside = rows - drawn.resting[0], columns - drawn.resting[1]
            angle: Array | float = 0.0
        else:
            down = rows - up.row(paths.along(drawn.part, times)[0])
            beside = columns - up.column(paths.across(drawn.part, times))
            angle = paths.angle(drawn.part, times)
        down32, beside32 = down.astype(np.float32), beside.astype(np.float32)
        if not np.any(angle):
            return down32, beside32
        cos, sin = np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)
        return cos * down32 + sin * beside32, cos * beside32 - sin * down32

    def _add(self, picture: Picture, window: _Window, contrast: Picture) -> None:
        """Blur what was drawn as the lens does, and lay it into the picture."""
        blur = self._scene.camera.blur_px
        pad = math.ceil(BLUR_REACH * blur)
        if blur:
            contrast = np.pad(contrast, pad)
            contrast = ndimage.gaussian_filter(contrast, blur, mode="constant", truncate=BLUR_REACH)
        top, left = window.top - pad, window.left - pad
        bottom, right = top + contrast.shape[0], left + contrast.shape[1]
        rows = slice(max(top, 0), max(min(bottom, picture.shape[0]), 0))
        columns = slice(max(left, 0), max(min(right, picture.shape[1]), 0))
        if rows.start < rows.stop and columns.start < columns.stop:
            picture[rows, columns] += contrast[
                rows.start - top : rows.stop - top, columns.start - left : columns.stop - left
            ]

    def _light(self, t_s: float) -> Picture:
        """Return the light on each line relative to the scene's, averaged over its exposure."""
        up, light = self._up, self._scene.light
        rows = np.arange(up.rows, dtype=np.float64)[:, None] if up.line_s_per_row else 0.0
        columns = np.arange(up.columns, dtype=np.float64)[None, :] if up.line_s_per_column else 0.0
        middle = np.atleast_2d(t_s + up.delay(rows, columns))
        level = np.ones_like(middle)
        if light.flicker_percent:
            swing = light.flicker_percent / 100 * np.sinc(light.flicker_hz * up.exposure_s)
            level += swing * np.sin(2 * np.pi * light.flicker_hz * middle)
        for step in light.steps:
            exposure = max(up.exposure_s, 1e-9)
            lit = np.clip((middle - step.at_s) / exposure + 0.5, 0.0, 1.0)
            level = level * (1 + step.percent / 100 * lit)
        return level.astype(np.float32)
