"""The frames that reach the file: which, of what, and when."""

import math
from dataclasses import dataclass, replace

import numpy as np

from viscount.clips.key_frames import KeyFrames
from viscount.simulate.light import light_at
from viscount.simulate.scene import Scene

PERIODS_S = 0.02
"""A camera measures the light over this long: whole periods of light on the mains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTime:
    """A delivered frame.

    Attributes
    ----------
    number : the camera's own count. shows : the number of the frame whose picture it carries.
    t_ns, shown_t_ns : true time of the frame, and of the frame whose picture it carries, on the
        capture clock, 0 at the first frame.
    file_t_ns : its time in the file.
    exposure_s : exposure of each line of the picture that it carries.
    gain : light times exposure relative to the scene's, where the camera sets its exposure.
    torn : the frame whose picture its far half shows, or None.
    damaged : whether its packet in the file is.
    spoiled : whether an H.264 decoder makes it of a damaged one, since the last key frame.
    """

    number: int
    shows: int
    t_ns: int
    shown_t_ns: int
    file_t_ns: int
    exposure_s: float
    gain: float = 1.0
    torn: "FrameTime | None" = None
    damaged: bool = False
    spoiled: bool = False

    @property
    def new(self) -> bool:
        """Whether it shows what was there at its own time, all over, and arrives whole."""
        return self.number == self.shows and self.torn is None and not self.spoiled


def frame_times(scene: Scene, duration_s: float) -> tuple[FrameTime, ...]:
    """Return the delivered frames; a repeated one shows what the frame before it showed."""
    faults = scene.recording.faults
    found: list[FrameTime] = []
    for number, (t_s, exposure_s, gain) in enumerate(_exposures(scene, duration_s)):
        own = FrameTime(
            number=number,
            shows=number,
            t_ns=round(t_s * 1e9),
            shown_t_ns=round(t_s * 1e9),
            file_t_ns=0,
            exposure_s=exposure_s,
            gain=gain,
            torn=found[-1] if number in faults.torn and found else None,
            damaged=number in faults.damaged,
        )
        if number in faults.repeated and found:
            own = replace(found[-1], number=number, t_ns=own.t_ns, damaged=own.damaged)
        found.append(own)
    delivered = [time for time in found if time.number not in faults.dropped]
    stamps = _stamps(scene, [time.t_ns for time in delivered])
    paired = zip(delivered, stamps, strict=True)
    return _spoiled(scene, [replace(time, file_t_ns=stamp) for time, stamp in paired])


def _spoiled(scene: Scene, times: list[FrameTime]) -> tuple[FrameTime, ...]:
    """Mark what comes of damaged packets: each picture up to the next key frame, in H.264."""
    found, keys, spoiled = [], KeyFrames(), False
    for time in times:
        at_us = (time.file_t_ns - times[0].file_t_ns) // 1000
        begins = keys.falls_on(at_us) or scene.recording.codec != "h264"
        spoiled = time.damaged or (spoiled and not begins)
        found.append(replace(time, spoiled=spoiled))
    return tuple(found)


def _exposures(scene: Scene, duration_s: float) -> list[tuple[float, float, float]]:
    """Return time, exposure and gain of every frame the camera takes."""
    camera, wander = scene.camera, scene.recording.wander_percent / 100
    nominal, interval = camera.exposure_us * 1e-6, 1 / camera.fps
    rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(4, 0)))
    auto = scene.light.auto_exposure
    if not auto and not wander:
        return [(k / camera.fps, nominal, 1.0) for k in range(int(duration_s * camera.fps) + 1)]
    found: list[tuple[float, float, float]] = []
    t, exposure = 0.0, nominal
    while t <= duration_s:
        found.append((t, exposure, exposure / nominal if auto and nominal else 1.0))
        length, before = interval, exposure
        if wander:
            length *= max(1 + wander * float(rng.standard_normal()), 0.2)
        if auto and nominal:
            light = float(light_at(scene.light, np.array(t), PERIODS_S))
            wanted = min(nominal / max(light, 1e-3), auto.longest_exposure_us * 1e-6)
            passes = max(length, exposure)
            exposure += (wanted - exposure) * (1 - math.exp(-passes / auto.time_constant_s))
        # No exposure begins before the one before it has ended.
        t += max(length, (before + exposure) / 2)
    return found


def _stamps(scene: Scene, times_ns: list[int]) -> list[int]:
    """Return the times in the file: late, slowed and rounded, and always rising."""
    recording = scene.recording
    rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(4, 1)))
    late_ns = np.abs(rng.standard_normal(len(times_ns))) * recording.late_ms * 1e6
    # A computer takes times of arrival in whole microseconds.
    step_ns = max(round(recording.rounded_to_us * 1e3), 1000 if recording.late_ms else 1)
    stamps: list[int] = []
    for t_ns, late in zip(times_ns, late_ns.tolist(), strict=True):
        stamp = round((t_ns + late) * recording.slowed / step_ns) * step_ns
        stamps.append(max(stamp, stamps[-1] + step_ns) if stamps else stamp)
    return stamps
