"""Pictures of falling parts, from the share of each pixel that they cover.

Each line of the picture is drawn at its own time, and averaged over its exposure in steps of
less than a quarter of a pixel. Nearer parts hide farther ones, instant by instant; the lip hides
what has not yet left. A part has the scale of its centre, and is seen in parallel rays. Nothing
but the pixels around each part is computed.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from viscount.simulate.drawing.actor import Actor, Cast
from viscount.simulate.drawing.backdrop import Backdrop
from viscount.simulate.drawing.moments import own_moments
from viscount.simulate.drawing.surroundings import Furniture
from viscount.simulate.drawing.windows import Patch, Window, joined, window_around
from viscount.simulate.geometry import upright
from viscount.simulate.light import Lighting
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.sensor import levels
from viscount.simulate.shake import shakes
from viscount.simulate.solids.body import body
from viscount.simulate.timeline import FrameTime

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

STEP_PX = 0.25
CHUNK = 16
BLUR_REACH = 4.0
SHAKEN_PX = 8.0
"""No camera here is shaken farther within a frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visible:
    """How much of one part is to be seen in a frame, at the middle of its own exposure.

    Attributes
    ----------
    share : share of what of it is inside the view that nothing hides.
    inside : share of its outline that is inside the view and out of the lip.
    area_px : area of its outline.
    grey : its own mean grey, in the scene's light.
    """

    share: float
    inside: float
    area_px: float
    grey: float


class Studio:
    """Draws the frames of one scene; a frame's pixels depend on the scene and itself alone."""

    def __init__(self, scene: Scene, paths: Paths) -> None:
        self._scene, self._paths = scene, paths
        self._up = upright(scene)
        self._cast = Cast(scene, paths, self._up)
        self._light = Lighting(scene.light, self._up)
        self._backdrop = Backdrop(scene, self._up)
        self._furniture = Furniture(scene, paths, self._up)
        self._largest_mm = max(body(part).radius for part in scene.parts)

    def frame(self, time: FrameTime) -> NDArray[np.uint8]:
        """Return a frame as the camera delivers it: uint8, (H, W)."""
        return self._up.turned(self._levels(time))

    def _levels(self, time: FrameTime) -> NDArray[np.uint8]:
        """Return a frame's upright levels."""
        seeds = np.random.SeedSequence(self._scene.seed, spawn_key=(1, time.shows))
        picture = levels(self.noiseless(time), self._scene.camera, np.random.default_rng(seeds))
        if time.torn is not None:
            sideways = bool(self._up.line_s_per_column)
            half = picture.shape[sideways] // 2
            far = (slice(None), slice(half, None)) if sideways else (slice(half, None), slice(None))
            picture[far] = self._levels(time.torn)[far]
        return picture

    def noiseless(self, time: FrameTime) -> Picture:
        """Return the upright picture of a frame in grey levels of light, before the sensor."""
        t_s, up = time.shown_t_ns * 1e-9, self._up
        middle_s = t_s + float(up.delay((up.rows - 1) / 2, (up.columns - 1) / 2))
        picture = self._backdrop.picture(t_s)
        self._furniture.lay(picture, middle_s, in_front=False)
        for window in joined(self._windows(t_s, time.exposure_s)):
            self._add(picture, window, t_s, time.exposure_s)
        self._furniture.lay(picture, middle_s, in_front=True)
        if not self._light.steady or time.gain != 1.0:
            picture *= self._light.level(t_s, time.exposure_s) * np.float32(time.gain)
        return picture

    def visible(self, time: FrameTime) -> dict[int, Visible]:
        """Return how much of each part that may be in view is to be seen in a frame."""
        t_s, up, found = time.shown_t_ns * 1e-9, self._up, {}
        for window in joined(self._windows(t_s, 0.0)):
            rows, columns = _axes(window.patch)
            inside = (rows > -0.5) & (rows < up.rows) & (columns > -0.5) & (columns < up.columns)
            in_view = (inside & (rows > up.lip - 0.5)).astype(np.float32)
            through = np.ones((rows.size, columns.size), dtype=np.float32)
            if self._furniture.in_front:
                through -= self._furniture.hidden(rows, columns, t_s)
            for placed in window.nearest_first:
                actor, own_patch = placed.actor, placed.patch.inside(window.patch)
                u, v = actor.own(
                    self._paths,
                    up,
                    np.full((1, 1), actor.at_s),
                    rows[own_patch[0]],
                    columns[:, own_patch[1]],
                )
                own = np.asarray(actor.seen.outline.cover(u, v), dtype=np.float32)
                whole, within = float(own.sum()), own * in_view[own_patch]
                shown = float(np.minimum(within, through[own_patch]).sum())
                there = float(within.sum())
                painted = float(actor.greys(u, v, own).sum())
                found[actor.part] = Visible(
                    share=shown / there if there > 0 else 0.0,
                    inside=there / whole if whole > 0 else 0.0,
                    area_px=whole,
                    grey=painted / whole if whole > 0 else actor.grey,
                )
                through[own_patch] = np.maximum(through[own_patch] - own, 0.0)
        return found

    def part_alone(self, time: FrameTime, part: int) -> Picture:
        """Return the upright picture of a frame in which there is no other part."""
        t_s = time.shown_t_ns * 1e-9
        picture = self._backdrop.picture(t_s)
        for window in self._windows(t_s, time.exposure_s):
            if window.placed[0].actor.part == part:
                self._add(picture, window, t_s, time.exposure_s)
        picture *= self._light.level(t_s, time.exposure_s) * np.float32(time.gain)
        return picture

    def _windows(self, t_s: float, exposure_s: float) -> list[Window]:
        """Return a window around each part that may show in the frame."""
        shows = np.flatnonzero(self._may_show(t_s, exposure_s))
        moments = own_moments(self._paths, self._up, shows, t_s)
        windows = []
        for k, at_s in zip(shows.tolist(), moments.tolist(), strict=True):
            window = self._around(self._cast.actor(k, at_s), t_s, exposure_s)
            if window:
                windows.append(window)
        return windows

    def _may_show(self, t_s: float, exposure_s: float) -> NDArray[np.bool_]:
        """Whether each part is out of the lip and within its own size of the view."""
        paths, up = self._paths, self._up
        each = np.arange(paths.count)
        corners = up.delay(np.array([[0.0], [up.rows]]), np.array([[0.0, up.columns]]))
        early = np.full(paths.count, t_s + corners.min() - exposure_s)
        late = np.full(paths.count, t_s + corners.max() + exposure_s)
        scale = float(np.max(up.scale_at(np.array([0.0, up.along_mm(0), up.along_mm(up.rows)]), 0)))
        reach = self._largest_mm * scale + BLUR_REACH * self._scene.camera.blur_px
        reach += 1 + (SHAKEN_PX if shakes(self._scene.surroundings) else 0.0)
        let_go = (late >= paths.lip_s) | (paths.lip_speed_mm_s > 0)
        rows = [
            up.place(paths.along(each, t)[0], paths.across(each, t), paths.depth(each, t))[0]
            for t in (early, late)
        ]
        entered = np.maximum(*rows) > max(up.lip, 0.0) - reach
        shows: NDArray[np.bool_] = let_go & entered & (np.minimum(*rows) < up.rows + reach)
        return shows

    def _around(self, actor: Actor, t_s: float, exposure_s: float) -> Window | None:
        """Find the pixels that a part can touch while their own lines are exposed."""
        up, paths = self._up, self._paths
        pad = BLUR_REACH * self._scene.camera.blur_px
        edges = (-pad, up.rows - 1 + pad, -pad, up.columns - 1 + pad)
        top, bottom, left, right = edges
        half = exposure_s / 2
        back, front, to_left, to_right = actor.ends
        moments = 9 if shakes(self._scene.surroundings) else 2
        for _ in range(12):
            delays = up.delay(np.array([[top], [bottom]]), np.array([[left, right]]))
            times = np.linspace(delays.min() - half, delays.max() + half, moments) + t_s
            along, across = paths.along(actor.part, times)[0], paths.across(actor.part, times)
            rows, columns = up.place(along, across, actor.depth_mm, times)
            top = max(edges[0], rows.min() - back)
            bottom = min(edges[1], rows.max() + front)
            left = max(edges[2], columns.min() - to_left)
            right = min(edges[3], columns.max() + to_right)
            if top > bottom or left > right:
                return None
            if not (up.line_s_per_row or up.line_s_per_column):
                break
        return window_around(actor, (top, bottom), (left, right))

    def _add(self, picture: Picture, window: Window, t_s: float, exposure_s: float) -> None:
        """Lay the parts of a window into the picture, as the lens shows them."""
        covered, painted = self._averaged(window, t_s, exposure_s)
        blur = self._scene.camera.blur_px
        pad = math.ceil(BLUR_REACH * blur)
        if blur:
            covered, painted = (
                ndimage.gaussian_filter(
                    np.pad(layer, pad), blur, mode="constant", truncate=BLUR_REACH
                )
                for layer in (covered, painted)
            )
        top, left = window.patch.top - pad, window.patch.left - pad
        bottom, right = top + covered.shape[0], left + covered.shape[1]
        rows = slice(max(top, 0), max(min(bottom, picture.shape[0]), 0))
        columns = slice(max(left, 0), max(min(right, picture.shape[1]), 0))
        if rows.start < rows.stop and columns.start < columns.stop:
            inner = (
                slice(rows.start - top, rows.stop - top),
                slice(columns.start - left, columns.stop - left),
            )
            piece = picture[rows, columns]
            piece *= 1 - covered[inner]
            piece += painted[inner]

    def _averaged(self, window: Window, t_s: float, exposure_s: float) -> tuple[Picture, Picture]:
        """Return the share covered and the grey painted in a window, over the exposure."""
        rows, columns = _axes(window.patch)
        up = self._up
        delay = np.atleast_2d(
            up.delay(rows if up.line_s_per_row else 0.0, columns if up.line_s_per_column else 0.0)
        )
        placed = window.nearest_first
        middle_s = t_s + float(delay.mean())
        steps = max(self._steps(p.actor, middle_s, exposure_s) for p in placed)
        offsets = ((np.arange(steps) + 0.5) / steps - 0.5) * exposure_s
        out_of_lip = np.clip(rows - up.lip + 0.5, 0.0, 1.0).astype(np.float32)
        flat = {p.actor.grey for p in placed} if all(p.actor.plain for p in placed) else set()
        covered = np.zeros((rows.size, columns.size), dtype=np.float32)
        painted = np.zeros_like(covered)
        for start in range(0, steps, CHUNK):
            times = t_s + delay + offsets[start : start + CHUNK, None, None]
            through = np.ones((len(times), rows.size, columns.size), dtype=np.float32)
            for actor, down, beside in ((p.actor, *p.patch.inside(window.patch)) for p in placed):
                own_times = times[:, down] if up.line_s_per_row else times
                own_times = own_times[:, :, beside] if up.line_s_per_column else own_times
                u, v = actor.own(self._paths, up, own_times, rows[down], columns[:, beside])
                cover = np.asarray(actor.seen.outline.cover(u, v), dtype=np.float32)
                cover = cover * out_of_lip[down]
                left = through[:, down, beside]
                if len(placed) > 1:
                    cover = np.minimum(cover, left)
                left -= cover
                if len(flat) != 1:
                    painted[down, beside] += actor.greys(u, v, cover).sum(axis=0)
            covered += (1 - through).sum(axis=0)
        covered /= np.float32(steps)
        if len(flat) == 1:
            return covered, covered * np.float32(flat.pop())
        return covered, painted / np.float32(steps)

    def _steps(self, actor: Actor, t_s: float, exposure_s: float) -> int:
        """Return how many instants of the exposure keep every point's step below STEP_PX."""
        if not exposure_s:
            return 1
        paths, up = self._paths, self._up
        scale = float(up.scale_at(paths.along(actor.part, np.array(t_s))[0], 0.0, actor.depth_mm))
        speed = abs(float(paths.along(actor.part, np.array([t_s]))[1][0])) * scale
        across = abs(float(paths.drift_mm_s[actor.part])) * scale
        rim = abs(actor.spin_rad_s) * actor.reach
        shaken = 0.0
        feeder = self._scene.surroundings.feeder
        if feeder:
            shaken = 2 * math.pi * feeder.hz * feeder.amplitude_px
        return max(1, math.ceil((speed + across + rim + shaken) * exposure_s / STEP_PX))


def _axes(patch: Patch) -> tuple[Array, Array]:
    rows = np.arange(patch.top, patch.bottom, dtype=np.float64)[:, None]
    return rows, np.arange(patch.left, patch.right, dtype=np.float64)[None, :]
