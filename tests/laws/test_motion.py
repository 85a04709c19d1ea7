"""What must not matter to a count: when, which way round, in which order."""

from dataclasses import replace

import numpy as np
import pytest
from counting import count_frames, outlet
from hypothesis import given, settings
from hypothesis import strategies as st
from scenes import field_scene
from streams import Stream, stream

from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior
from viscount.motion.tracker import Tracker
from viscount.values import Blob, Falls, Frame, Passage, Sighting

FEW = settings(max_examples=12, deadline=None, derandomize=True)


@st.composite
def streams(draw: st.DrawFn) -> Stream:
    """Streams of a few parts in one or two lanes, sparse or dense, seen at some frame rate."""
    parts = draw(st.integers(2, 12))
    pitch_s = draw(st.floats(0.012, 0.08))
    seed = draw(st.integers(0, 999))
    rng = np.random.default_rng(seed)
    return stream(
        0.1 + np.cumsum(rng.uniform(0.8, 1.3, parts)) * pitch_s,
        draw(st.floats(1200, 4000)),
        lip=-30,
        fps=draw(st.sampled_from([100.0, 120.0, 200.0])),
        size=(14, 18),
        across=rng.uniform(30, 130, parts),
        seed=seed,
    )


def follow(sightings: list[Sighting], view: tuple[int, int], line: float, falls=Falls.DOWN):
    height, width = view
    geometry = Geometry(falls=falls, line_px=line, view=(0, 0, width, height), picture=view)
    tracker = Tracker(geometry, MotionPrior(acceleration_px_s2=0.0))
    found = [p for s in sightings for p in tracker.feed(s)] + tracker.finish()
    return sorted(found, key=lambda p: (p.t_ns, p.across_px))


def told(found: list[Passage]) -> list[tuple[int, str, int]]:
    return [(p.t_ns, p.direction.value, p.parts) for p in found]


@FEW
@given(made=streams(), shift_ns=st.integers(-(10**13), 10**13))
def test_shifting_all_times_shifts_crossings_by_exactly_that(made: Stream, shift_ns: int):
    plain = follow(made.sightings, made.view, made.line)
    later = [replace(s, t_ns=s.t_ns + shift_ns) for s in made.sightings]
    moved = follow(later, made.view, made.line)
    assert [(t + shift_ns, d, n) for t, d, n in told(plain)] == told(moved)


@FEW
@given(made=streams())
def test_mirroring_changes_nothing(made: Stream):
    width = made.view[1]
    mirrored = [
        replace(s, blobs=tuple(_mirrored(b, width) for b in s.blobs)) for s in made.sightings
    ]
    plain, other = (follow(s, made.view, made.line) for s in (made.sightings, mirrored))
    assert [(d, n) for _, d, n in told(plain)] == [(d, n) for _, d, n in told(other)]
    for a, b in zip(plain, other, strict=True):
        assert abs(a.t_ns - b.t_ns) <= 2
        assert a.across_px == pytest.approx(width - 1 - b.across_px, abs=1e-6)


@FEW
@given(made=streams(), seed=st.integers(0, 99))
def test_the_order_of_blobs_in_a_frame_changes_nothing(made: Stream, seed: int):
    rng = np.random.default_rng(seed)
    shuffled = [
        replace(s, blobs=tuple(s.blobs[k] for k in rng.permutation(len(s.blobs))))
        for s in made.sightings
    ]
    assert told(follow(made.sightings, made.view, made.line)) == told(
        follow(shuffled, made.view, made.line)
    )


@FEW
@given(made=streams())
def test_an_easy_stream_is_counted_whole(made: Stream):
    found = follow(made.sightings, made.view, made.line)
    assert sum(p.parts for p in found) == len(made.crossings_s)


@pytest.mark.parametrize(("turns", "falls"), [(0, "down"), (1, "right"), (2, "up"), (3, "left")])
@pytest.mark.parametrize("pitch_ms", [8.0, 25.0])
def test_quarter_turns_of_a_clip_give_the_same_count(turns: int, falls: str, pitch_ms: float):
    shot = field_scene(parts=12, pitch_ms=pitch_ms)
    frames = [replace(f, pixels=np.rot90(f.pixels, turns)) for f in shot.frames]
    extent = frames[0].pixels.shape[0 if falls in ("down", "up") else 1]
    line = 80 if falls in ("down", "right") else extent - 1 - 80
    found = count_frames(
        frames, outlet(motion={"kind": "belt"}, view={"falls": falls, "line_px": line})
    )
    straight = count_frames(shot.frames, outlet(motion={"kind": "belt"}, view={"line_px": 80}))
    assert found.result.count == straight.result.count == 12
    assert found.result.status == straight.result.status
    for a, b in zip(found.passages, straight.passages, strict=True):
        assert abs(a.t_ns - b.t_ns) < 20_000


def _mirrored(blob: Blob, width: int) -> Blob:
    x0, y0, x1, y1 = blob.box
    return replace(blob, x_px=width - 1 - blob.x_px, box=(width - x1, y0, width - x0, y1))


def test_frames_are_values_that_can_be_counted_twice():
    shot = field_scene(parts=3)
    set_up = outlet(motion={"kind": "belt"}, view={"line_px": 80})
    assert isinstance(shot.frames[0], Frame)
    first, second = (count_frames(shot.frames, set_up) for _ in range(2))
    assert told(first.passages) == told(second.passages)
