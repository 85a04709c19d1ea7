"""A recording that is played, in any order."""

from dataclasses import replace

import numpy as np
import pytest
from played import FRAMES, playback
from watched import FPS, SPEED

from viscount.monitor.model.playback import SPEEDS, Playback
from viscount.monitor.model.standing import Shape
from viscount.values import Status


def shown(model: Playback) -> tuple[object, ...]:
    strip = model.strip
    assert strip is not None
    pixels, seen = strip.picture(model.now_s - 0.2, model.now_s, 100, SPEED)
    assert model.picture is not None
    numbers = model.numbers
    return (
        model.index,
        model.now_s,
        (numbers.in_bag, numbers.beam),
        model.picture.pixels.tobytes(),
        (pixels * seen).tobytes(),
        model.trains.within(0.0, model.now_s).passages.tobytes(),
    )


@pytest.mark.parametrize("limit_bytes", [32 << 20, 300_000], ids=["all kept", "too long to keep"])
def test_backwards_shows_the_same_as_forwards(limit_bytes: int) -> None:
    model = playback(limit_bytes)
    there = []
    for _ in range(0, FRAMES, 10):
        there.append(shown(model))
        model.step(10)
    model.go_to(FRAMES // 10 * 10 - 10)
    back = []
    for _ in range(0, FRAMES, 10):
        back.append(shown(model))
        model.step(-10)
    assert there == back[::-1]


def test_a_recording_too_long_to_keep_shows_the_same() -> None:
    kept, read = playback(), playback(limit_bytes=80_000)
    assert read.strip is not None
    for index in (149, 70, 71, 95, 30, 149, 90):
        kept.go_to(index)
        read.go_to(index)
        assert len(read.strip) < 40
        assert shown(read) == shown(kept)


def test_it_counts_what_crossed_by_then() -> None:
    model = playback()
    found = []
    for t_s in (0.45, 0.55, 0.65, 0.95):
        model.go_to_s(t_s)
        found.append((model.numbers.in_bag, model.numbers.beam))
    assert found == [(0, 0), (1, 1), (2, 1), (4, 3)]
    assert model.settled


def test_where_there_is_no_count_none_is_shown() -> None:
    model = playback()
    assert model.tally is not None
    model.tally = replace(model.tally, count=None, status=Status.INVALID)
    model.go_to_s(0.95)
    assert model.numbers.in_bag is None
    assert model.state.shape is Shape.BAD


def test_steps_stop_at_the_ends() -> None:
    model = playback()
    model.step(-5)
    assert model.index == 0
    model.step(10_000)
    assert (model.index, model.at_end) == (FRAMES - 1, True)


def test_it_plays_at_its_speed_and_stops_at_the_end() -> None:
    model = playback()
    model.play()
    for _ in range(10):
        model.tick(0.05)
    assert model.now_s == pytest.approx(0.5, abs=1.01 / FPS)
    model.faster(-1)
    assert model.speed == 0.5
    model.tick(0.2)
    assert model.now_s == pytest.approx(0.6, abs=1.01 / FPS)
    for _ in range(20):
        model.faster(1)
    assert model.speed == SPEEDS[-1]
    model.tick(1.0)
    assert model.at_end
    assert not model.playing
    model.play()
    assert model.index == 0


def test_standing_still_nothing_is_new() -> None:
    model = playback()
    before = model.revision
    model.tick(10.0)
    assert model.revision == before
    model.play()
    model.speed = 0.01
    begun = model.revision
    model.tick(0.1)
    assert model.revision == begun, "the next frame has not come"


def test_doubts_are_gone_through_in_order_of_time_and_around() -> None:
    model = playback()
    found = []
    for _ in range(3):
        doubt = model.next_doubt()
        assert doubt is not None
        model.look_at(doubt)
        found.append(doubt.t_s)
    assert found == pytest.approx([0.6, 0.7, 0.6])
    back = model.next_doubt(-1)
    assert back is not None
    assert back.t_s == pytest.approx(0.7)


def test_the_frames_that_prove_it_are_read_again() -> None:
    model = playback()
    doubt = model.next_doubt()
    assert doubt is not None
    assert doubt.frames == (66, 78)
    assert [one.index for one in model.proof(doubt)] == list(range(64, 81))
    path = model.trains.path(0.6, np.array([one.t_s for one in model.proof(doubt)]))
    assert path is not None
    for one, (across, along) in zip(model.proof(doubt), path, strict=True):
        row = round(80 + along)
        if 0 <= row < 160:
            assert one.pixels[row, round(across)] == 40


def test_a_recording_says_how_camera_beam_and_gate_stand() -> None:
    model = playback()
    camera, beam, gate = model.things
    assert camera.shape is Shape.GOOD
    assert beam.words == "3 pulses in its log"
    assert model.tally is not None
    model.tally = replace(model.tally, beam=None)
    assert "--beam" in model.things[1].words
    assert "--strokes" in gate.words
