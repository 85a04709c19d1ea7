"""The textbook tracker: each part is the nearest centroid in the next frame."""

from dataclasses import dataclass

import numpy as np
from benchmarks.rivals.stream import Floats, Stream

GATE = 1.5
"""A link is at most this many times the fastest move of a part that was alone: a falling part
gains speed, but not more than that from one frame to the next."""
GATE_UNKNOWN = 0.5
"""Where no part was ever alone: at most this share of the picture's length."""
UPSTREAM_PX = 3.0
"""Parts fall, so links go down; this much up is allowed for the noise of a centroid."""
PATIENCE = 2
"""Frames for which a track that found no centroid is kept."""


@dataclass(slots=True)
class _Track:
    places: list[Floats]
    number: int


def crossings(stream: Stream) -> int:
    """Return how many tracks crossed the line."""
    moves = stream.lone_moves[1]
    gate = GATE * float(moves[:, 0].max()) if len(moves) else GATE_UNKNOWN * stream.length
    tracks: list[_Track] = []
    every: list[_Track] = []
    for frame in stream.frames:
        tracks = [t for t in tracks if frame.number - t.number <= PATIENCE + 1]
        free = set(range(len(frame.place)))
        # All pairs by distance, the nearest first: each track and each centroid once.
        pairs = []
        for t, track in enumerate(tracks):
            step = frame.place - track.places[-1]
            frames = frame.number - track.number
            reach = np.hypot(*step.T)
            near = np.flatnonzero((reach <= gate * frames) & (step[:, 0] > -UPSTREAM_PX))
            pairs += [(float(reach[k]), t, int(k)) for k in near]
        linked: set[int] = set()
        for _, t, k in sorted(pairs):
            if t in linked or k not in free:
                continue
            linked.add(t)
            free.remove(k)
            tracks[t].places.append(frame.place[k])
            tracks[t].number = frame.number
        new = [_Track([frame.place[k]], frame.number) for k in sorted(free)]
        tracks += new
        every += new
    return sum(stream.crossed([float(place[0]) for place in t.places]) for t in every)
