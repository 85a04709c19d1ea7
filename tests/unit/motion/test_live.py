"""Following parts as they come: what a live run makes of pours whose truth is known."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from streams import Stream, blob, column, stream

from viscount.motion import learning, speeds
from viscount.motion import tracker as tracking
from viscount.motion.detections import detections
from viscount.motion.findings import STRETCH
from viscount.motion.geometry import Geometry
from viscount.motion.live import HELD_SHARE, Live
from viscount.motion.running import AHEAD_S
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.tracker import Tracker
from viscount.values import Falls, Level, Notice, Passage

SCALE = 4.0
G = 9806.65 * SCALE
LAG_NS = 100_000_000


def geometry_of(made: Stream) -> Geometry:
    height, width = made.view
    return Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )


def live(made: Stream, prior: MotionPrior) -> tuple[list[Passage], Tracker]:
    tracker = Tracker(geometry_of(made), prior, lag_ns=LAG_NS)
    found = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
    return sorted(found, key=lambda p: p.t_ns), tracker


def is_clean(tracker: Tracker, found: list[Passage]) -> bool:
    doubts = [n for n in tracker.notices if n.level is not Level.INFO]
    return not doubts and float(np.prod([1.0 - p.doubt for p in found])) > 0.95


def sixty(fps: int, seed: int) -> Stream:
    """A column of sixty: 28 ms apart at first, 4.4 ms at last (common practice, no source)."""
    release, pitches_s = column(60, 0.53, seed=seed)
    return stream(
        release,
        pitches_s * 5.5 * SCALE,
        acceleration=G,
        lip=-120,
        fps=fps,
        size=(28, 20),
        seed=seed,
    )


@pytest.mark.parametrize("fps", [240, 120])
@pytest.mark.parametrize(
    "prior",
    [MotionPrior(acceleration_px_s2=G, falling=True), MotionPrior()],
    ids=["gravity", "nothing"],
)
def test_a_column_is_followed_as_it_speeds_up(fps: int, prior: MotionPrior):
    for seed in range(3):
        made = sixty(fps, seed)
        found, tracker = live(made, prior)
        assert sum(p.parts for p in found) == 60
        assert is_clean(tracker, found)
        times = np.array([p.t_ns for p in found if p.parts]) * 1e-9
        assert np.sqrt(np.mean((times - made.crossings_s) ** 2)) < 5e-5


def test_the_next_pour_begins_slowly_again():
    """The last of a column fall nearly twice as fast as the first of the next one."""
    one, two = sixty(120, 1), sixty(120, 2)
    last = one.sightings[-1]
    later = [
        replace(s, index=last.index + 1 + k, t_ns=last.t_ns + (k + 1) * 8_333_333)
        for k, s in enumerate(two.sightings)
    ]
    both = replace(one, sightings=[*one.sightings, *later])
    found, tracker = live(both, MotionPrior(acceleration_px_s2=G, falling=True))
    assert sum(p.parts for p in found) == 120
    assert is_clean(tracker, found)


def test_dust_does_not_teach_how_parts_fall():
    """A speck drifts through the empty view for half a second; then the parts come."""
    made = stream(
        0.7 + 0.05 * np.arange(20), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    sightings = []
    for s in made.sightings:
        speck = blob(100.0, 40.0 + 90.0 * s.t_ns * 1e-9, 3.0, 3.0, made.view)
        sightings.append(replace(s, blobs=(*s.blobs, speck)))
    found, _ = live(replace(made, sightings=sightings), MotionPrior(acceleration_px_s2=0.0))
    assert sum(p.parts for p in found) == 20


def test_single_parts_far_apart_are_pours_of_their_own():
    made = stream(
        0.2 + 0.7 * np.arange(6), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    found, _ = live(made, MotionPrior(acceleration_px_s2=0.0, speed_px_s=1500.0))
    assert sum(p.parts for p in found) == 6


def test_speed_is_carried_on_as_it_has_been_growing():
    made = sixty(240, 3)
    _, tracker = live(made, MotionPrior(acceleration_px_s2=G, falling=True))
    model = tracker.model
    assert isinstance(model, SpeedModel)
    assert model.speed[-1] > model.speed[-2] > model.speed[0]
    assert model.t_s[-1] == pytest.approx(model.t_s[-2] + AHEAD_S)


@pytest.mark.parametrize("frames", [1, 2, 3, 5, 30])
def test_a_run_may_end_while_its_first_pour_opens(frames: int):
    """Nobody knows yet how parts move, and the last thing to do is to fail over it."""
    made = stream(
        0.2 + 0.05 * np.arange(6), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    first = next(k for k, s in enumerate(made.sightings) if s.blobs)
    cut = replace(made, sightings=made.sightings[: first + frames])
    found, _ = live(cut, MotionPrior())
    crossed = (made.crossings_s * 1e9 < cut.sightings[-1].t_ns).sum()
    assert sum(p.parts for p in found) <= crossed


def handed_out(made: Stream, lag_s: float) -> dict[tuple[int, int], tuple[float, bool]]:
    """When each track of a stream is handed out, by its first sighting, and whether that was a
    frame in which something was learned."""
    live = Live(geometry_of(made), MotionPrior(acceleration_px_s2=0.0, speed_px_s=1500.0), lag_s)
    found: dict[tuple[int, int], tuple[float, bool]] = {}
    for s in made.sightings:
        frame = detections(s, geometry_of(made), 0)
        before = live.model
        ended = live.advance(frame, [])
        learned = live.model is not before
        found |= {(t.sights[0].frame, t.sights[0].blob): (frame.t_s, learned) for t in ended}
    return found


@pytest.mark.parametrize("fps", [30, 60, 120, 240])
def test_tracks_that_ended_are_held_for_a_part_of_the_lag(fps: int):
    made = stream(
        0.2 + 0.02 * np.arange(60), 1500.0, lip=-16, fps=fps, view=(480, 120), size=(16, 20)
    )
    lag_s = 1e-9 * LAG_NS
    held, at_once = handed_out(made, lag_s), handed_out(made, 0.0)
    assert held.keys() == at_once.keys()
    waited = np.array([held[key][0] - at_once[key][0] for key in held])
    assert waited.min() >= 0.0
    assert waited.max() <= HELD_SHARE * lag_s
    if fps == 60:
        # Several are handed out together, or there is nothing to gain.
        assert len(set(held.values())) < 0.8 * len(set(at_once.values()))
    if fps >= 120:
        assert not any(learned for _, learned in list(held.values())[5:])


@pytest.mark.parametrize("later", range(4))
def test_nothing_that_is_held_is_lost_at_the_end_of_a_run(later: int):
    """Of any four frames one learns nothing, and hands out all that has ended."""
    made = stream(
        0.2 + 0.1 * np.arange(6), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    live = Live(geometry_of(made), MotionPrior(acceleration_px_s2=0.0, speed_px_s=1500.0), 10.0)
    frames = [detections(s, geometry_of(made), 0) for s in made.sightings]
    gone = max(k for k, frame in enumerate(frames) if len(frame)) + 2 + later
    found = [t for frame in frames[:gone] for t in live.advance(frame, [])]
    assert len(found + live.finish()) == 6


@pytest.mark.parametrize(
    ("fps", "every_s"),
    [(120, 0.02), (240, 0.02), (120, 0.0061)],  # the last a stretch of 44 frames
)
def test_no_frame_bears_two_of_what_takes_long(
    fps: int, every_s: float, monkeypatch: pytest.MonkeyPatch
):
    """To learn, to look at what has ended, to judge it, and to say what there is to say."""
    frame = 0
    done: dict[str, list[int]] = {}

    def noting(name: str, holder: object, attribute: str) -> None:
        real = getattr(holder, attribute)

        def noted(*args: Any, **more: Any) -> Any:
            done.setdefault(name, []).append(frame)
            return real(*args, **more)

        monkeypatch.setattr(holder, attribute, noted)

    noting("learns", learning, "latest_good")
    noting("learns more", learning, "with_accelerations")
    noting("learns more", speeds, "with_speeds")
    noting("looks", tracking, "crossed")
    noting("judges", tracking, "usual")
    noting("says", Tracker, "_say_next")
    release = 0.2 + every_s * np.arange(3.0 / every_s)
    lanes = np.resize([50.0, 110.0], release.size)
    made = stream(release, 1500.0, lip=-16, fps=fps, size=(8, 10), across=lanes)
    prior = MotionPrior(acceleration_px_s2=0.0, speed_px_s=1500.0)
    tracker = Tracker(geometry_of(made), prior, lag_ns=LAG_NS)
    opened = 0
    for sighting in made.sightings[: round(3.2 * fps)]:
        tracker.feed(sighting)
        opened = opened or (frame if "learns" in done else 0)
        frame += 1
    kinds = {name: {k for k in frames if k >= opened} for name, frames in done.items()}
    assert len(kinds) == 5
    assert all(len(frames) > 5 for frames in kinds.values())
    assert sum(map(len, kinds.values())) == len(set.union(*kinds.values()))


def test_what_there_is_to_say_is_looked_into_a_kind_at_a_time(monkeypatch: pytest.MonkeyPatch):
    """To look into all kinds of it at once takes as long as a frame may; an end says all."""
    kinds, frame = 5, 0
    looked: list[int] = []

    def kind() -> Iterator[Notice]:
        looked.append(frame)
        yield from ()

    monkeypatch.setattr(
        "viscount.motion.tracker.findings", lambda *_, **__: [kind() for _ in range(kinds)]
    )
    made = stream(0.2 + 0.03 * np.arange(STRETCH + 12), 1500.0, lip=-16, fps=120, size=(16, 20))
    tracker = Tracker(geometry_of(made), MotionPrior(acceleration_px_s2=0.0), lag_ns=LAG_NS)
    for sighting in made.sightings:
        tracker.feed(sighting)
        frame += 1
    tracker.finish()
    first = looked[:kinds]
    assert len(set(first)) == kinds
    assert looked[kinds:] == [frame] * kinds
