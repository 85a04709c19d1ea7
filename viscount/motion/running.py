"""The speed model of a live run, kept up from the parts that are in view.

Nobody can wait for the end of the pour to learn from it. The first parts teach how the next ones
move; from then on each part teaches as soon as it has been seen often enough, and the speed is
carried on as it has been growing: a sliding column speeds up all the way.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viscount.motion import learning, speeds
from viscount.motion.detections import Detections
from viscount.motion.following import follow
from viscount.motion.geometry import Geometry
from viscount.motion.paths import fitted
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.spread import MAD_TO_SIGMA, quantile
from viscount.motion.track import Track
from viscount.motion.trend import trend

Floats = NDArray[np.float64]

TRIED = 5
"""So many ways to explain the first blobs are followed through."""
TREND = 8
"""So many parts, the last, say how the speed changes."""
FOREIGN = 6.0
"""What is so many times as large as all before it is no more of the same."""
AHEAD_S = 0.25
"""For so long it is thought to go on changing like that."""
FIRST = 3
"""So many parts tell how a pour begins; the next one is thought to begin like that."""
OTHERWISE = 0.3
"""Relative spread of the speed of what begins a pour."""
LEAST_SPREAD = 0.03
LOOSE_SHARE = 0.5
"""Few parts say little of how others stray: this share of what neighbours allow is let be."""
LEARN_EVERY = 4
"""Frames from one keeping up of the speeds to the next."""
REFINE_EVERY = 24
"""Frames from one learning of acceleration and scatter to the next,"""
ACCELERATION_AT, SCATTER_AT = 15, 19
"""each at a frame of its own, the last before the speeds are kept up again."""


class RunningModel:
    """Learns from the tracks of a live run.

    Attributes
    ----------
    model : what is known now, or None before the first part.
    """

    def __init__(self, geometry: Geometry, prior: MotionPrior) -> None:
        self._geometry = geometry
        self._prior = prior
        self._since = 0
        self._begun: list[float] = []
        self._loose = 0.0
        self._refined: SpeedModel | None = None
        self._taught: list[Track] = []
        self._forgot = False
        self.model: SpeedModel | None = None

    @property
    def begins(self) -> bool:
        """Whether the speeds have just been kept up: in this frame and the next others may work."""
        return self._since % LEARN_EVERY == 1

    @property
    def idle(self) -> bool:
        """Whether this is a frame that is kept for learning and has nothing to learn."""
        step = self._since % REFINE_EVERY
        return step % LEARN_EVERY == LEARN_EVERY - 1 and step not in (ACCELERATION_AT, SCATTER_AT)

    def pour_begins(self) -> None:
        """Expect the next part as slow as the first ones of the pour before it."""
        if self.model is None or not self.model.learned or not self._begun:
            return
        first = np.array([float(np.median(self._begun))])
        self.model = replace(self.model, t_s=np.zeros(1), speed=first, spread=OTHERWISE)
        self._begun, self._refined, self._taught = [], None, []

    def begin(self, frames: Sequence[Detections]) -> None:
        """Learn from the blobs alone, where no pour before has taught anything."""
        if self.model is None or not self.model.learned:
            opening = list(frames)
            models = learning.first_models(opening, self._geometry, self._prior, quick=True)
            if len(models) > 1:
                tried = [follow(opening, self._geometry, model) for model in models[:TRIED]]
                self.model = min(tried, key=lambda one: one.cost).model
            else:
                self.model = models[0]
            self._loose = LOOSE_SHARE * self.model.sigma_acceleration

    def is_foreign(self, frame: Detections) -> bool:
        """Whether the frame shows something far larger than all that has taught the model.

        Once a run; larger things than parts come later, too.
        """
        if self.model is None or self._forgot or not len(frame):
            return False
        whole = frame.area[~frame.cut]
        return bool(whole.size and whole.max() > FOREIGN * self.model.area_px)

    def forget(self) -> None:
        """Begin to learn anew."""
        self._begun, self._refined, self._taught, self._forgot = [], None, [], True
        if self.model is not None:
            self.model = replace(self.model, learned=False)

    def learn_opening(self, ended: Sequence[Track], active: Sequence[Track]) -> bool:
        """Learn from the first tracks of a pour; return whether they are enough."""
        assert self.model is not None
        tracks = [*ended, *active]
        taught = learning.good(tracks, self.model)
        if len(taught) < FIRST:
            return False
        self._since, self._refined, self._taught = 0, None, []
        model = learning.refined_model(taught, self.model, self._prior)
        self.model = self._kept_up(taught + learning.late(tracks, taught, model), model)
        return True

    def learn(self, ended: Sequence[Track], active: Sequence[Track]) -> SpeedModel:
        """Return what is known now, by the tracks of this pour in order of time."""
        assert self.model is not None
        self._since += 1
        known = self._refined or self.model
        step = self._since % REFINE_EVERY
        if step % LEARN_EVERY == 0:
            tracks = [*ended, *active]
            taught = learning.latest_good(tracks, self.model)
            self._taught = taught if len(taught) >= FIRST else []
            every = taught + learning.late(tracks, taught, self.model)
            if len(every) >= FIRST:
                self.model, self._refined = self._kept_up(every, known), None
        elif step == ACCELERATION_AT and self._taught:
            self._refined = learning.with_accelerations(self._taught, known, self._prior)
        elif step == SCATTER_AT and self._taught:
            self._refined = speeds.with_speeds(self._taught, known)
        return self.model

    def _kept_up(self, tracks: Sequence[Track], model: SpeedModel) -> SpeedModel:
        """Return the model with the speeds of these tracks, carried on as they change."""
        paths = fitted([track.traits.way for track in tracks], model, with_prior=False)
        t_s, _, speed = paths.at_line(1)
        order = np.argsort(t_s, kind="stable")
        t_s, speed = t_s[order], np.maximum(speed[order], 1e-3)
        if len(self._begun) < FIRST:
            self._begun = speed[:FIRST].tolist()
        slope, level = trend(t_s[-TREND:], speed[-TREND:])
        off = speed[-TREND:] / np.maximum(level + slope * t_s[-TREND:], 1e-3) - 1.0
        spread = 1.3 * MAD_TO_SIGMA * quantile(np.abs(off)) + LEAST_SPREAD
        at = t_s[-1] + np.array([0.0, AHEAD_S])
        ahead = np.clip(level + slope * at, 0.5 * speed[-1], 2.0 * speed[-1])
        return replace(
            model,
            t_s=np.concatenate([t_s[:-1], at]),
            speed=np.concatenate([speed[:-1], ahead]),
            spread=spread,
            sigma_acceleration=max(model.sigma_acceleration, self._loose),
            learned=True,
        )
