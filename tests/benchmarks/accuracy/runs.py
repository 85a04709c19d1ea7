"""One pour counted as a user would: its clip through the offline run, and the rivals beside."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from benchmarks.accuracy.cases import Case, Files, Mode, outlet_of, second_s
from benchmarks.rivals import RIVALS
from benchmarks.rivals.stream import Stream

from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.offline import count
from viscount.seams import Detector, View
from viscount.tally import Tally
from viscount.values import Frame, Sighting


@dataclass(frozen=True, kw_only=True)
class Run:
    """What one run came to.

    Attributes
    ----------
    tally : the answer.
    ms_per_frame : this process's own time for the whole run, decoding included.
    rivals : what each rival counts in the same sightings.
    second_s : how long a true second lasts on the tally's clock.
    """

    tally: Tally
    ms_per_frame: float
    rivals: dict[str, int]
    second_s: float


class _Listening:
    """A detector that keeps what another one saw."""

    def __init__(self, detector: Detector) -> None:
        self._detector = detector
        self.seen: list[Sighting] = []
        self.picture = (0, 0)

    def prime(self, frames: Sequence[Frame]) -> None:
        """Hand the first frames on."""
        self._detector.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Hand the frame on, and keep the answer."""
        height, width = frame.pixels.shape
        self.picture = (height, width)
        self.seen.append(self._detector.see(frame, learn=learn))
        return self.seen[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _ListeningRegistry(Registry):
    """Makes the detectors that listen."""

    made: list[_Listening] = field(default_factory=list)

    def make_detector(
        self, name: str, options: Mapping[str, Any], view: View, *, where: str
    ) -> Detector:
        """Return the named detector, with an ear to it."""
        plain = Registry(entries=self.entries, refused=self.refused)
        self.made.append(_Listening(plain.make_detector(name, options, view, where=where)))
        return self.made[-1]


def counted(case: Case, files: Files, mode: Mode, *, rivals: bool = True) -> Run:
    """Count one pour, and let the rivals count what the detector saw."""
    outlet = outlet_of(files, case.scene, mode)
    plugins = load_plugins(())
    registry = _ListeningRegistry(entries=plugins.entries, refused=plugins.refused)
    started = time.process_time()
    tally = count(files.clip, outlet=outlet, registry=registry, threads=1)
    spent = time.process_time() - started
    seen = registry.made[0]
    stream = Stream(
        sightings=seen.seen,
        falls=case.scene.view.falls,
        line_px=case.scene.view.line_px,
        picture=seen.picture,
        fps=_usual_rate(seen.seen),
    )
    return Run(
        tally=tally,
        ms_per_frame=1e3 * spent / max(tally.frames.read, 1),
        rivals={name: rival(stream) for name, rival in RIVALS.items()} if rivals else {},
        second_s=second_s(case.scene, outlet),
    )


def _usual_rate(sightings: Sequence[Sighting]) -> float:
    """Return the rate in frames per second of the clock that the sightings carry."""
    steps = np.diff([s.t_ns for s in sightings])
    return float(1e9 / np.median(steps)) if len(steps) else 1.0
