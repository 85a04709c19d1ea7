"""Counting frames in memory, by the pipeline that a recorded clip goes through."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from viscount.agreement.result import Result, result
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import Outlet
from viscount.pipeline import PRIMING_FRAMES, Pipeline
from viscount.seams import Detector, View
from viscount.values import Direction, Frame, Passage
from viscount.vision.difference import DifferenceDetector, DifferenceOptions


@dataclass(frozen=True)
class Counted:
    """What a run came to."""

    passages: list[Passage]
    result: Result
    pipeline: Pipeline

    @property
    def against(self) -> int:
        return sum(p.parts for p in self.passages if p.direction is Direction.AGAINST)

    @property
    def codes(self) -> set[str]:
        return {r.code.code for r in self.result.reasons}


def outlet(**sections: dict[str, Any]) -> Outlet:
    """An outlet from plain keys, as a file would give it."""
    return Outlet.model_validate(sections)


def count_frames(
    frames: Sequence[Frame],
    outlet: Outlet,
    *,
    detector: Detector | None = None,
    lag_ns: int | None = None,
) -> Counted:
    """Count frames under an outlet; with `lag_ns` as a live run would."""
    height, width = frames[0].pixels.shape
    geometry = geometry_of(outlet, height, width)
    made = detector or DifferenceDetector(DifferenceOptions(), View(falls=outlet.falls))
    pipeline = Pipeline(made, geometry, motion_prior(outlet, geometry), lag_ns=lag_ns)
    pipeline.prime(frames[:PRIMING_FRAMES])
    passages = [p for frame in frames for p in pipeline.feed(frame)] + pipeline.finish()
    passages.sort(key=lambda p: (p.t_ns, p.id))
    return Counted(passages, result(passages, pipeline.notices, frames[0].t_ns), pipeline)
