"""The light barrier, and what goes wrong with it."""

from typing import Annotated, Literal

from pydantic import Field

from viscount.simulate.scene.lamp import LampInView
from viscount.simulate.scene.model import Finite, Model, NotNegative, Positive, Share


class Board(Model):
    """What the board does to the edges that its sensor gives.

    Attributes
    ----------
    jitter_us : standard deviation of each edge's time.
    bounces : chance that an edge chatters: two more edges follow within `bounce_us`.
    missed : chance that a pulse is not seen at all.
    queue : edges it can hold while nobody reads; the oldest are then lost. None for no limit.
    stalls_ms : (from, to) on the capture clock in which nobody reads.
    wraps : whether its clock is a 32-bit counter of microseconds, and starts again at 2**32.
    restarts_ms : moments on the capture clock at which it restarts: its clock and its count
        begin again, and what it held is lost.
    """

    jitter_us: NotNegative = 0.0
    bounces: Share = 0.0
    bounce_us: Positive = 80.0
    missed: Share = 0.0
    queue: Annotated[int, Field(ge=1)] | None = None
    stalls_ms: tuple[tuple[Finite, Finite], ...] = ()
    wraps: bool = False
    restarts_ms: tuple[Finite, ...] = ()


class Lamp(LampInView):
    """A signal lamp in view that the beam's board switches.

    It is lit while the beam is blocked; with `shows: pours` from a pour's first pulse to its last.
    """

    shows: Literal["pulses", "pours"] = "pulses"


class Beam(Model):
    """A light barrier across the fall.

    With `sees: projection` it runs in the plane of the picture, as a curtain over all lanes: any
    part blocks it over its whole length. With `sees: ray` it runs there too, but is only
    `breadth_mm` broad in depth, at `depth_mm`. With `sees: spot` it runs along the camera's axis
    at `across_mm`, so that it can pass a bore. It switches when the fraction `threshold` of its
    light is lost, after `operate_us` and `release_us`, and tells the time by its own clock: at
    the first frame that clock shows `offset_s`.
    """

    below_lip_mm: Finite
    width_mm: Positive
    sees: Literal["projection", "ray", "spot"] = "projection"
    across_mm: Finite = 0.0
    depth_mm: Finite = 0.0
    breadth_mm: Positive | None = None
    threshold: Annotated[float, Field(gt=0, lt=1)] = 0.5
    operate_us: NotNegative = 0.0
    release_us: NotNegative = 0.0
    offset_s: NotNegative = 0.0
    drift_ppm: Finite = 0.0
    board: Board = Board()
    lamp: Lamp | None = None
