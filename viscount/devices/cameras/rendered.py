"""A simulated pour as a camera: rendered beforehand, then shown in real time."""

from collections.abc import Iterator
from pathlib import Path

from pydantic import Field

from viscount.clock import Clock
from viscount.devices.cameras.live import LiveCamera
from viscount.errors import UsageError
from viscount.seams import Aim, Options
from viscount.simulate.pour import simulate
from viscount.simulate.scene import load_scene
from viscount.values import Frame

MOST_BYTES = 1 << 30
"""Pictures are held in memory: rendering them takes longer than showing them."""


class RenderedOptions(Options):
    """Options of the camera `scene`.

    `seed` stands over the scene's own. `speed` is how many of its seconds go by in a second.
    """

    seed: int | None = Field(None, ge=0)
    speed: float = Field(1.0, gt=0, le=1000)


class RenderedCamera(LiveCamera):
    """Shows what a scene file describes.

    Parameters
    ----------
    options : see `RenderedOptions`.
    aim : the address is the scene file's path.

    Raises
    ------
    UsageError : the scene cannot be simulated, or is too long to be held.
    """

    recorded = True
    may_repeat = True

    def __init__(self, options: RenderedOptions, aim: Aim, *, clock: Clock | None = None) -> None:
        super().__init__(clock)
        self._speed = options.speed
        scene = load_scene(Path(aim.address))
        if options.seed is not None:
            scene = scene.model_copy(update={"seed": options.seed})
        pour = simulate(scene)
        size = scene.view.width_px * scene.view.height_px * len(pour.times)
        if size > MOST_BYTES:
            raise UsageError(
                f"a scene of {len(pour.times)} frames, {size >> 20} MiB",
                where=aim.address,
                allowed=f"up to {MOST_BYTES >> 20} MiB, which are held in memory",
                remedy="simulate it into a clip, and name that",
            )
        self._pictures = list(pour.frames())

    def _come(self) -> Iterator[Frame]:
        """Yield the scene's frames, each when it is due."""
        begun_ns = self._clock.now_ns()
        for t_ns, pixels in self._pictures:
            due_ns = begun_ns + round((t_ns - self._pictures[0][0]) / self._speed)
            if self._alarm.wait_until(due_ns):
                return
            late_ns = self._clock.now_ns() - due_ns
            frame = self._made.frame(t_ns, pixels, age_ns=late_ns)
            if frame is not None:
                yield frame
