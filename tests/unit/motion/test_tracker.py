"""The tracker on streams of sightings with known truth."""

from dataclasses import replace

import numpy as np
import pytest
from streams import Stream, column, stream

from viscount.codes import Code
from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior
from viscount.motion.tracker import MOST_UNSAID, Tracker
from viscount.values import Blob, Direction, Falls, Level, Passage

SCALE = 4.0
G = 9806.65 * SCALE
BELT = MotionPrior(acceleration_px_s2=0.0)


def follow(made: Stream, prior: MotionPrior = BELT, **more) -> tuple[list[Passage], Tracker]:
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, prior, **more)
    found = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
    return sorted(found, key=lambda p: p.t_ns), tracker


def times_s(found: list[Passage]) -> np.ndarray:
    return np.array([p.t_ns for p in found if p.parts]) * 1e-9


@pytest.mark.parametrize("fps", [240, 120, 60])
@pytest.mark.parametrize(
    "prior",
    [
        MotionPrior(acceleration_px_s2=G, falling=True),
        MotionPrior(falling=True),
        MotionPrior(),
    ],
    ids=["gravity", "falling", "nothing"],
)
def test_a_column_of_sixty_is_counted_and_timed(fps: int, prior: MotionPrior):
    # 60 stacked screws empty in 530 ms, 28 ms apart at first and 4.4 ms at last
    # (common practice, no source): at 60 frames a second each part moves over three spacings.
    pulls = []
    for seed in range(3):
        release, pitches_s = column(60, 0.53, seed=seed)
        made = stream(
            release,
            pitches_s * 5.5 * SCALE,
            acceleration=G,
            lip=-120,
            fps=fps,
            size=(28, 20),
            seed=seed,
        )
        found, tracker = follow(made, prior)
        assert len(found) == 60
        error_ms = 1e3 * (times_s(found) - made.crossings_s)
        assert np.sqrt((error_ms**2).mean()) < 0.03
        pulls.append(error_ms / np.array([1e-6 * p.sigma_ns for p in found]))
        assert not any(n.level is not Level.INFO for n in tracker.notices)
    assert 0.8 < np.std(pulls) < 1.25


@pytest.mark.parametrize("fps", [125, 120, 300])
def test_a_standing_pattern_is_counted_by_its_front_and_tail(fps: int):
    # At 125 a second each part sits in the next frame where the one before it was.
    made = stream(
        0.1 + 0.008 * np.arange(20),
        6000.0,
        lip=-16,
        fps=fps,
        view=(160, 120),
        line=80,
        size=(16, 32),
    )
    found, _ = follow(made)
    assert sum(p.parts for p in found) == 20
    assert max(p.doubt for p in found) < 0.01


def test_a_gap_is_bridged_with_the_right_elapsed_time():
    made = stream(
        0.1 + 0.05 * np.arange(8), 1200.0, lip=-16, fps=120, view=(480, 120), drop=(40, 41, 42)
    )
    found, _ = follow(made)
    assert len(found) == 8
    np.testing.assert_allclose(times_s(found), made.crossings_s, atol=5e-4)


def test_missed_sightings_do_not_lose_parts():
    made = stream(
        0.1 + 0.05 * np.arange(20), 1500.0, lip=-16, fps=120, view=(480, 120), miss=0.05, seed=3
    )
    found, _ = follow(made)
    assert sum(p.parts for p in found) == 20


def test_specks_are_no_parts():
    rng = np.random.default_rng(4)
    made = stream(
        np.sort(rng.uniform(0, 1, 40)),
        1000.0,
        acceleration=G,
        lip=-40,
        fps=60,
        across=rng.uniform(20, 140, 40),
        size=(8, 12),
        specks=3,
    )
    found, _ = follow(made, MotionPrior(acceleration_px_s2=G))
    assert sum(p.parts for p in found) == 40


def test_a_blob_at_rest_is_said_and_never_counted():
    made = stream([1.5], 1200.0, lip=-16, fps=60, lead_s=1.4, size=(16, 20))
    lying = Blob(
        x_px=30.0,
        y_px=300.0,
        sigma_x_px=0.1,
        sigma_y_px=0.1,
        area_px=300.0,
        box=(20, 290, 40, 310),
        moments=(33.0, 0.0, 33.0),
        profile=np.full(20, 20, dtype=np.uint16),
        cut_by_edge=False,
    )
    with_it = [replace(s, blobs=(*s.blobs, lying)) for s in made.sightings]
    found, tracker = follow(replace(made, sightings=with_it))
    assert [p.parts for p in found] == [1]
    assert Code.PART_AT_REST in {n.code for n in tracker.notices}


def test_what_goes_back_up_is_against():
    made = stream([0.1], 1200.0, lip=-16, fps=120, size=(16, 20), view=(480, 120))
    height = made.view[0]
    flipped = [
        replace(
            s,
            blobs=tuple(
                replace(
                    b,
                    y_px=height - 1 - b.y_px,
                    box=(b.box[0], height - b.box[3], b.box[2], height - b.box[1]),
                )
                for b in s.blobs
            ),
        )
        for s in made.sightings
    ]
    found, _ = follow(replace(made, sightings=flipped))
    assert [p.direction for p in found] == [Direction.AGAINST]


def test_too_fast_to_be_followed_is_invalid():
    made = stream(
        0.1 + 0.05 * np.arange(10), 9000.0, lip=-16, fps=30, view=(160, 120), line=80, size=(16, 20)
    )
    _, tracker = follow(made)
    assert Code.TOO_FEW_SIGHTINGS in {n.code for n in tracker.notices if n.level is Level.INVALID}


def test_speed_unlike_the_setting_is_said_and_the_count_stands():
    made = stream(
        0.1 + 0.05 * np.arange(10), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    found, tracker = follow(made, MotionPrior(acceleration_px_s2=0.0, speed_px_s=4000.0))
    assert len(found) == 10
    assert Code.SPEED_UNLIKE_SETTING in {n.code for n in tracker.notices}


def test_a_stream_too_dense_to_follow_is_never_clean():
    # 60 parts in 530 ms at 30 frames a second: two or three sightings each, eight spacings apart.
    release, pitches_s = column(60, 0.53)
    made = stream(release, pitches_s * 5.5 * SCALE, acceleration=G, lip=-120, fps=30, size=(28, 20))
    for prior in (MotionPrior(acceleration_px_s2=G, falling=True), MotionPrior()):
        found, tracker = follow(made, prior)
        sure = np.prod([1 - p.doubt for p in found]) > 0.95
        doubts = {n.code for n in tracker.notices if n.level is not Level.INFO}
        assert doubts or not sure or sum(p.parts for p in found) == 60
    assert Code.SIGHTINGS_LEFT_OVER in doubts
    assert Code.PATHS_UNLIKELY in doubts


def test_a_stream_without_front_and_tail_is_doubted():
    made = stream(
        0.1 + 0.008 * np.arange(60),
        6000.0,
        lip=-16,
        fps=125,
        view=(160, 120),
        line=80,
        size=(16, 32),
        start_s=0.25,
        end_s=0.4,
    )
    _, tracker = follow(made)
    doubts = {n.code for n in tracker.notices if n.level is not Level.INFO}
    assert Code.PARTS_IN_FIRST_FRAME in doubts


def test_an_even_stream_without_front_and_tail_has_several_speeds():
    # At 120 a second each part moves 50 px, and the next one stands 2 px from where it was.
    made = stream(
        0.1 + 0.008 * np.arange(120),
        6000.0,
        lip=-16,
        fps=120,
        view=(240, 120),
        line=120,
        size=(16, 24),
        start_s=0.3,
        end_s=0.6,
    )
    _, tracker = follow(made)
    (said,) = [n for n in tracker.notices if n.code is Code.SPEED_AMBIGUOUS]
    assert said.level is Level.DOUBT


def test_frame_times_that_are_off_by_chance_make_passages_less_sure():
    """Two parts teach nothing of it: 0.3 ms at 4.5 px/ms is 1.4 px, beside 0.1 of the detector."""
    made = stream([0.1, 0.4], 4500.0, lip=-16, fps=187, view=(360, 120), line=180)
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    sigmas = []
    for off_s in (0.0, 3e-4):
        tracker = Tracker(replace(geometry, sigma_frame_s=off_s), BELT)
        found = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
        assert len(found) == 2
        sigmas.append(np.mean([p.sigma_ns for p in found]))
    assert sigmas[1] > 4 * sigmas[0]
    # Some fifteen sightings a part: 0.3 ms over the root of their number, as far as they go.
    assert 5e4 < sigmas[1] < 3e5


def test_parts_above_the_line_at_the_end_are_said():
    made = stream([0.1, 0.2], 1200.0, lip=-16, fps=120, view=(480, 120), end_s=0.35)
    found, tracker = follow(made)
    assert len(found) == 1
    assert Code.PARTS_IN_LAST_FRAME in {n.code for n in tracker.notices}


def test_parts_seen_on_one_side_only_are_said():
    made = stream(
        0.1 + 0.05 * np.arange(6),
        6000.0,
        lip=-40,
        fps=120,
        view=(160, 120),
        line=10,
        size=(16, 24),
    )
    found, tracker = follow(made)
    assert len(found) == 6
    assert Code.LINE_NEAR_EDGE in {n.code for n in tracker.notices}


def test_clumps_are_doubted():
    clip = {"lip": -30, "fps": 120, "view": (480, 120), "start_s": -0.2, "end_s": 1.6}
    made = stream(0.1 + 0.06 * np.arange(8), 1500.0, size=(16, 20), **clip)
    big = stream([0.9], 1500.0, size=(36, 40), **clip)
    both = [
        replace(s, blobs=(*s.blobs, *b.blobs))
        for s, b in zip(made.sightings, big.sightings, strict=True)
    ]
    found, tracker = follow(replace(made, sightings=both))
    assert Code.PARTS_MERGED in {n.code for n in tracker.notices if n.level is Level.DOUBT}
    assert max(p.doubt for p in found) > 0.2


def test_a_part_that_comes_out_beside_another_below_the_line_is_not_forgotten():
    # Two parts on top of each other until both are past the line; then they part.
    made = stream(
        0.1 + 0.1 * np.arange(8), 3000.0, lip=-30, fps=120, view=(480, 120), size=(16, 24)
    )
    sightings = []
    for sighting in made.sightings:
        twin = [
            replace(b, y_px=b.y_px - 30, box=(b.box[0], b.box[1] - 30, b.box[2], b.box[3] - 30))
            for b in sighting.blobs
            if sighting.t_ns > 700_000_000 and b.y_px > made.line + 90 and not b.cut_by_edge
        ]
        sightings.append(replace(sighting, blobs=(*sighting.blobs, *twin)))
    found, _ = follow(replace(made, sightings=sightings))
    assert sum(p.parts for p in found) == 8
    assert [p.parts for p in found if p.doubt > 0.2] == [0] * sum(p.parts == 0 for p in found)
    assert any(p.parts == 0 for p in found)


def test_live_and_recorded_agree_on_an_easy_stream():
    made = stream(
        0.2 + 0.05 * np.arange(20), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    recorded, _ = follow(made)
    live, _ = follow(made, lag_ns=100_000_000)
    assert len(live) == len(recorded) == 20
    np.testing.assert_allclose(times_s(live), times_s(recorded), atol=3e-4)


def test_a_live_passage_never_changes_and_comes_in_time():
    made = stream(
        0.2 + 0.05 * np.arange(20), 1500.0, lip=-16, fps=120, view=(480, 120), size=(16, 20)
    )
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, BELT, lag_ns=100_000_000)
    for sighting in made.sightings:
        for passage in tracker.feed(sighting):
            # The lag, the way from the line to the border, and the frame that shows it gone.
            assert sighting.t_ns - passage.t_ns < 100_000_000 + 200_000_000 + 30_000_000


def test_memory_is_bounded_by_one_pour():
    made = stream(
        [0.1, 3.0, 6.0], 1500.0, lip=-16, fps=60, view=(480, 120), size=(16, 20), tail_s=3.0
    )
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, BELT)
    finals = [len(tracker.feed(s)) for s in made.sightings]
    # Each pour is handed out when it has been quiet for a second, not at the end.
    assert sum(finals) == 3
    assert len(tracker._frames) <= 2


def test_what_fills_the_view_from_side_to_side_may_be_light():
    """Bands of light that a shutter shows lower down in each frame, as broad as the picture."""
    made = stream(
        0.2 + 0.05 * np.arange(12), 1500.0, lip=-16, fps=120, view=(480, 120), size=(130, 20)
    )
    banded = [
        replace(s, blobs=tuple(replace(b, moments=(120.0**2 / 12, 0.0, 33.3)) for b in s.blobs))
        for s in made.sightings
    ]
    _, tracker = follow(replace(made, sightings=banded))
    (said,) = [n for n in tracker.notices if n.code is Code.LARGE_IN_VIEW]
    assert said.level is Level.DOUBT


def test_one_picture_that_is_off_leaves_the_count_clean():
    """A torn one, or one that was repeated after a lost one: all parts are where they were not."""
    made = stream(0.1 + 0.03 * np.arange(20), 2000.0, lip=-30, seed=2)
    busy = [k for k, seen in enumerate(made.sightings) if len(seen.blobs) >= 3]
    for off, clean in ((busy[20:21], True), (busy[10:50:2], False)):
        shown = list(made.sightings)
        for k in off:
            moved = [replace(b, y_px=b.y_px - 25.0) for b in shown[k].blobs]
            shown[k] = replace(shown[k], blobs=tuple(moved))
        found, tracker = follow(replace(made, sightings=shown))
        doubted = any(n.code is Code.PATHS_UNLIKELY for n in tracker.notices)
        assert doubted is not clean
        if clean:
            assert [p.parts for p in found] == [1] * 20


@pytest.mark.parametrize("fps", [50, 45, 40])
def test_a_short_steep_column_is_followed_to_its_end(fps: int):
    """Within some twenty pictures its parts speed up by half; each moves over five others."""
    release, pitches_s = column(60, 0.53, seed=4)
    made = stream(
        release, pitches_s * 8.0 * SCALE, acceleration=G, lip=-120, fps=fps, size=(20, 24), seed=4
    )
    found, _ = follow(made, MotionPrior(acceleration_px_s2=G, falling=True, sure=False))
    assert [p.parts for p in found] == [1] * 60


def test_live_all_that_is_overdue_after_a_gap_comes_out_with_the_next_frame():
    """Whoever waits for a passage counts the time since, not the frames."""
    made = stream(0.2 + 0.05 * np.arange(8), 1500.0, lip=-16, fps=120, size=(16, 20))
    last = max(k for k, s in enumerate(made.sightings) if s.blobs) + 3
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, *made.view[::-1]), picture=made.view
    )
    tracker = Tracker(geometry, BELT, lag_ns=100_000_000)
    found = [p for s in made.sightings[:last] for p in tracker.feed(s)]
    late = replace(made.sightings[last], t_ns=made.sightings[last].t_ns + 1_000_000_000)
    assert len(found) < 8
    assert len(found + tracker.feed(late)) == 8


def test_live_what_is_to_be_said_is_not_saved_up_for_ever(monkeypatch: pytest.MonkeyPatch):
    """Dust that is always in view makes tracks, and never a pause."""
    looked: list[int] = []

    def counted(ended, *rest, **more):
        looked.append(len(ended))
        return []

    monkeypatch.setattr("viscount.motion.tracker.findings", counted)
    made = stream(0.2 + 0.05 * np.arange(8), 1500.0, lip=-16, fps=120, size=(16, 20))
    (blob,) = next(s.blobs for s in made.sightings if len(s.blobs) == 1)
    rng = np.random.default_rng(1)
    places = rng.uniform(20, 100, (1500, 2))
    dust = [
        replace(s, index=k, t_ns=k * 8_333_333, blobs=(replace(blob, x_px=x, y_px=y),))
        for k, (s, (x, y)) in enumerate(zip([made.sightings[0]] * 1500, places, strict=True))
    ]
    follow(replace(made, sightings=dust), lag_ns=100_000_000)
    assert len(looked) > 1
    assert max(looked) < MOST_UNSAID + 50
