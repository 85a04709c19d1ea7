"""A recording that is played, in any order."""

from dataclasses import replace

import numpy as np
import pytest
from tallies import tally
from watched import FPS, LENGTH, SPEED, passage, picture, pulse, scenery, set_up

from viscount.monitor.model.facts import Facts
from viscount.monitor.model.playback import SPEEDS, Playback
from viscount.monitor.model.standing import Shape
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


def test_it_counts_what_crossed_by_then() -> None:
    model = playback()
    found = []
    for t_s in (0.45, 0.55, 0.65, 0.95):
        model.go_to_s(t_s)
        found.append((model.numbers.in_bag, model.numbers.beam))
    assert found == [(0, 0), (1, 1), (2, 1), (4, 3)]
    assert model.settled


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
