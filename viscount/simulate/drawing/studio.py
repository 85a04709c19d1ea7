"""Pictures of falling parts, from the share of each pixel that they cover.

Each line of the picture is drawn at its own time, and averaged over its exposure in steps of
less than a quarter of a pixel. Nearer parts hide farther ones, instant by instant; the lip hides
what has not yet left. A part has the scale of its centre, and is seen in parallel rays. Nothing
but the pixels around each part is computed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.drawing.actor import Actor, Cast
from viscount.simulate.drawing.backdrop import Backdrop
from viscount.simulate.drawing.exposure import farthest_px, fastest_px_s, instants
from viscount.simulate.drawing.lens import blurred, reach_px
from viscount.simulate.drawing.moments import own_moments
from viscount.simulate.drawing.surroundings import Furniture
from viscount.simulate.drawing.windows import Patch, Window, joined, window_around
from viscount.simulate.geometry import upright
from viscount.simulate.light import Lighting
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.sensor import levels
from viscount.simulate.solids.body import body
from viscount.simulate.timeline import FrameTime

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

CHUNK = 16
"""Instants that are drawn at once."""

SETTLED_PX = 0.05
"""A window that shrinks by no more than this at a time holds no more than a pixel too much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visible:
    """How much of one part is to be seen in a frame, at the middle of its own exposure.

    Attributes
    ----------
    share : share of what of it is inside the view that nothing hides.
    inside : share of its outline that is inside the view and out of the lip.
    area_px : area of its whole outline.
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
        self._shaken_px = farthest_px(scene.surroundings)
        self._shaken_px_s = fastest_px_s(scene.surroundings)
        self._blurred_px = reach_px(scene.camera.blur_px)

    def frame(self, time: FrameTime) -> NDArray[np.uint8]:
        """Return a frame as the camera delivers it: uint8, (H, W)."""
        camera = self._scene.camera
        seeds = np.random.SeedSequence(self._scene.seed, spawn_key=(1, time.shows))
        upright_levels = levels(self.noiseless(time), camera, np.random.default_rng(seeds))
        picture = self._up.turned(upright_levels)
        if time.torn is not None:
            far = _far_half(camera.readout, picture.shape)
            picture[far] = self.frame(time.torn)[far]
        return picture

    def noiseless(self, time: FrameTime) -> Picture:
        """Return the upright picture of a frame in grey levels of light, before the sensor."""
        t_s, middle_s = time.shown_t_ns * 1e-9, self._middle_s(time)
        picture = self._backdrop.picture(t_s, time.exposure_s)
        self._furniture.lay(picture, middle_s, in_front=False)
        for window in self._joined(t_s, time.exposure_s):
            self._add(picture, window, t_s, time.exposure_s)
        self._furniture.lay(picture, middle_s, in_front=True)
        if not self._light.steady or time.gain != 1.0:
            picture *= self._light.level(t_s, time.exposure_s) * np.float32(time.gain)
        return picture

    def visible(self, time: FrameTime) -> dict[int, Visible]:
        """Return how much of each part that may be in view is to be seen in a frame."""
        t_s, up, found = time.shown_t_ns * 1e-9, self._up, {}
        for window in self._joined(t_s, 0.0):
            rows, columns = _axes(window.patch)
            inside = (rows > -0.5) & (rows < up.rows) & (columns > -0.5) & (columns < up.columns)
            in_view = (inside & (rows > up.lip - 0.5)).astype(np.float32)
            through = np.ones((rows.size, columns.size), dtype=np.float32)
            if self._furniture.in_front:
                through -= self._furniture.hidden(rows, columns, self._middle_s(time))
            for placed in window.nearest_first:
                actor, own_patch = placed.actor, placed.patch.inside(window.patch)
                u, v = actor.own(
                    self._paths,
                    up,
                    np.full((1, 1), actor.at_s),
                    rows[own_patch[0]],
                    columns[:, own_patch[1]],
                )
                own = np.asarray(actor.seen.cover(u, v), dtype=np.float32)
                drawn, within = float(own.sum()), own * in_view[own_patch]
                shown = float(np.minimum(within, through[own_patch]).sum())
                there = float(within.sum())
                painted = float(actor.greys(u, v, own).sum())
                # What is outside the view is not drawn.
                whole = max(actor.seen.outline.area, drawn)
                found[actor.part] = Visible(
                    share=shown / there if there > 0 else 0.0,
                    inside=there / whole,
                    area_px=whole,
                    grey=painted / drawn if drawn > 0 else actor.grey,
                )
                through[own_patch] = np.maximum(through[own_patch] - own, 0.0)
        return found

    def part_alone(self, time: FrameTime, part: int) -> Picture:
        """Return the upright picture of a frame in which there is no other part."""
        t_s = time.shown_t_ns * 1e-9
        picture = self._backdrop.picture(t_s, time.exposure_s)
        shows = np.intersect1d(self._showing(t_s, time.exposure_s), [part])
        for window in self._windows(shows, t_s, time.exposure_s):
            self._add(picture, window, t_s, time.exposure_s)
        picture *= self._light.level(t_s, time.exposure_s) * np.float32(time.gain)
        return picture

    def _middle_s(self, time: FrameTime) -> float:
        """Return the moment at which what moves little is drawn."""
        up = self._up
        delay = up.delay((up.rows - 1) / 2, (up.columns - 1) / 2)
        return time.shown_t_ns * 1e-9 + float(delay)

    def _joined(self, t_s: float, exposure_s: float) -> list[Window]:
        """Return windows that do not mix, the lens's blur included."""
        windows = self._windows(self._showing(t_s, exposure_s), t_s, exposure_s)
        return joined(windows, room=self._blurred_px)

    def _windows(self, shows: NDArray[np.intp], t_s: float, exposure_s: float) -> list[Window]:
        """Return a window around each of these parts that shows in the frame."""
        moments = own_moments(self._paths, self._up, shows, t_s)
        windows = []
        for k, at_s in zip(shows.tolist(), moments.tolist(), strict=True):
            window = self._around(self._cast.actor(k, at_s), t_s, exposure_s)
            if window:
                windows.append(window)
        return windows

    def _showing(self, t_s: float, exposure_s: float) -> NDArray[np.intp]:
        """Return the parts that are out of the lip and within their own size of the view."""
        paths, up = self._paths, self._up
        each = np.arange(paths.count)
        corners = up.delay(np.array([[0.0], [up.rows]]), np.array([[0.0, up.columns]]))
        early = np.full(paths.count, t_s + corners.min() - exposure_s)
        late = np.full(paths.count, t_s + corners.max() + exposure_s)
        let_go = (late >= paths.lip_s) | (paths.lip_speed_mm_s > 0)
        places = [
            (paths.along(each, t)[0], paths.across(each, t), paths.depth(each, t))
            for t in (early, late)
        ]
        rows = [up.place(*place)[0] for place in places]
        scale = np.maximum(*(up.scale_at(*place) for place in places))
        reach = self._largest_mm * scale + self._blurred_px + self._shaken_px + 1
        entered = np.maximum(*rows) > max(up.lip, 0.0) - reach
        return np.flatnonzero(let_go & entered & (np.minimum(*rows) < up.rows + reach))

    def _around(self, actor: Actor, t_s: float, exposure_s: float) -> Window | None:
        """Find the pixels that a part can touch while their own lines are exposed."""
        up, paths = self._up, self._paths
        pad, shaken = self._blurred_px, self._shaken_px
        edges = (-pad, up.rows - 1 + pad, -pad, up.columns - 1 + pad)
        top, bottom, left, right = edges
        half = exposure_s / 2
        rolling = bool(up.line_s_per_row or up.line_s_per_column)
        for _ in range(12):
            delays = up.delay(np.array([[top], [bottom]]), np.array([[left, right]]))
            times = t_s + np.array([delays.min() - half, delays.max() + half])
            along, across = paths.along(actor.part, times)[0], paths.across(actor.part, times)
            rows, columns = up.place(along, across, actor.depth_mm)
            back, front, to_left, to_right = (end + shaken for end in actor.ends(times))
            before = top, bottom, left, right
            top = max(edges[0], rows.min() - back)
            bottom = min(edges[1], rows.max() + front)
            left = max(edges[2], columns.min() - to_left)
            right = min(edges[3], columns.max() + to_right)
            if top > bottom or left > right:
                return None
            shrunk = np.abs(np.subtract((top, bottom, left, right), before)).max()
            if not rolling or shrunk <= SETTLED_PX:
                break
        return window_around(actor, (top, bottom), (left, right))

    def _add(self, picture: Picture, window: Window, t_s: float, exposure_s: float) -> None:
        """Lay the parts of a window into the picture, as the lens shows them."""
        covered, painted = self._averaged(window, t_s, exposure_s)
        sigma, pad = self._scene.camera.blur_px, self._blurred_px
        if sigma:
            covered, painted = (
                blurred(np.pad(layer, pad), sigma, "constant") for layer in (covered, painted)
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
        offsets = instants(max(self._fastest(p.actor, middle_s) for p in placed), exposure_s)
        out_of_lip = np.clip(rows - up.lip + 0.5, 0.0, 1.0).astype(np.float32)
        flat = {p.actor.grey for p in placed} if all(p.actor.plain for p in placed) else set()
        covered = np.zeros((rows.size, columns.size), dtype=np.float32)
        painted = np.zeros_like(covered)
        for start in range(0, len(offsets), CHUNK):
            times = t_s + delay + offsets[start : start + CHUNK, None, None]
            if len(placed) > 1:
                through = np.ones((len(times), rows.size, columns.size), dtype=np.float32)
            for actor, down, beside in ((p.actor, *p.patch.inside(window.patch)) for p in placed):
                own_times = times[:, down] if up.line_s_per_row else times
                own_times = own_times[:, :, beside] if up.line_s_per_column else own_times
                u, v = actor.own(self._paths, up, own_times, rows[down], columns[:, beside])
                cover = np.asarray(actor.seen.cover(u, v), dtype=np.float32)
                if out_of_lip[0, 0] < 1:
                    cover = cover * out_of_lip[down]
                if len(placed) > 1:
                    left = through[:, down, beside]
                    cover = np.minimum(cover, left)
                    left -= cover
                covered[down, beside] += cover.sum(axis=0)
                if len(flat) != 1:
                    painted[down, beside] += actor.greys(u, v, cover).sum(axis=0)
        covered /= np.float32(len(offsets))
        if len(flat) == 1:
            return covered, covered * np.float32(flat.pop())
        return covered, painted / np.float32(len(offsets))

    def _fastest(self, actor: Actor, t_s: float) -> float:
        """Return how fast any point of a part moves in the picture, px/s, at most."""
        paths, up = self._paths, self._up
        scale = float(up.scale_at(paths.along(actor.part, np.array(t_s))[0], 0.0, actor.depth_mm))
        speed = abs(float(paths.along(actor.part, np.array([t_s]))[1][0])) * scale
        across = abs(float(paths.drift_mm_s[actor.part])) * scale
        rim = abs(actor.spin_rad_s) * actor.reach
        return speed + across + rim + self._shaken_px_s


def _far_half(readout: str, shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Return the half of a delivered picture that is read last; all at once, the lower one."""
    row, column, whole = shape[0] // 2, shape[1] // 2, slice(None)
    sideways = {"right": slice(column, None), "left": slice(column)}
    if readout in sideways:
        return whole, sideways[readout]
    return slice(row) if readout == "up" else slice(row, None), whole


def _axes(patch: Patch) -> tuple[Array, Array]:
    rows = np.arange(patch.top, patch.bottom, dtype=np.float64)[:, None]
    return rows, np.arange(patch.left, patch.right, dtype=np.float64)[None, :]
