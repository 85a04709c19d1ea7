"""A recording made by hand: four parts, one of them unsure, one that the beam missed."""

from dataclasses import replace

import numpy as np
from tallies import tally
from watched import FPS, LENGTH, SPEED, passage, picture, pulse, scenery, set_up

from viscount.monitor.model.facts import Facts
from viscount.monitor.model.playback import Playback
from viscount.monitor.model.strip import Strip
from viscount.tally import BeamTally, CountedPairing, CountedPassage, CountedPulse, Tally
from viscount.values import Pairing, Pairs, Status

TIMES = [0.5, 0.6, 0.7, 0.8]
FRAMES = 150


class Drawn:
    """Draws each frame when it is asked for, and says how many were."""

    def __init__(self) -> None:
        self.asked: list[int] = []

    def pixels(self, index: int) -> np.ndarray:
        self.asked.append(index)
        return picture(index / FPS, TIMES)


def counted() -> Tally:
    way_s = (40.0 - LENGTH / 2) / SPEED
    passages = [passage(k, t) for k, t in enumerate(TIMES)]
    passages[2] = replace(passages[2], doubt=0.2)
    kinds = [Pairs.AGREED, Pairs.CAMERA_ONLY, Pairs.AGREED, Pairs.AGREED]
    pairings = [
        Pairing(
            kind=kind,
            passages=(k,),
            pulses=() if kind is Pairs.CAMERA_ONLY else (k,),
            parts=1,
            doubt=0.01 if kind is Pairs.CAMERA_ONLY else 1e-4,
        )
        for k, kind in enumerate(kinds)
    ]
    pulses = [pulse(k, t + way_s) for k, t in enumerate(TIMES) if k != 1]
    return replace(
        tally(),
        passages=tuple(CountedPassage(pour=1, passage=p, speed_mm_s=None) for p in passages),
        pairings=tuple(CountedPairing(pour=1, pairing=p) for p in pairings),
        pulses=tuple(CountedPulse(pulse=p, captured_ns=p.start_ns) for p in pulses),
        set_up=set_up(),
        beam=BeamTally(parts=3, pulses=3, lost_edges=0, status=Status.CLEAN, reasons=()),
        reasons=(),
    )


def playback(limit_bytes: int = 32 << 20) -> Playback:
    where = scenery(beam_px=120.0)
    strip = Strip(where, limit_bytes)
    times = [k / FPS for k in range(FRAMES)]
    for k, t in enumerate(times):
        strip.add(t, picture(k / FPS, TIMES))
    return Playback(Facts(title="clip"), counted(), where, times, strip, Drawn())
