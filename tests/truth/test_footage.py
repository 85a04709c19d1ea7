"""Real clips, counted by hand on a strip of the line. Nothing is tuned to a clip beyond its
outlet file: line, direction, kind of motion.

The clips are not part of the project; the tests skip, with the reason, where they are absent.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from counting import count_frames, outlet

from viscount.devices.cameras.source import open_source
from viscount.offline import count
from viscount.tally import Tally
from viscount.values import Frame, Status

pytestmark = pytest.mark.footage


def counted(clip: Path, falls: str, line: int, kind: str) -> Tally:
    settings = [f"view.falls={falls}", f"view.line_px={line}", f"motion.kind={kind}"]
    return count(clip, settings=settings)


@pytest.mark.parametrize(("line", "true"), [(180, 83), (260, 82)])
def test_a_shower_of_coins(footage: Path, line: int, true: int):
    """Two of them fall one half behind the other."""
    tally = counted(footage / "coins-falling" / "coins.mp4", "down", line, "free_fall")
    assert (tally.camera.count, tally.camera.against) == (true, 0)


@pytest.fixture(scope="module")
def coins(footage: Path) -> list[Frame]:
    with open_source(footage / "coins-falling" / "coins.mp4", capture_fps=None) as camera:
        return [replace(frame, pixels=frame.pixels.copy()) for frame in camera.frames()]


# Each coin then moves by about its own size, or more, from one frame to the next.
@pytest.mark.parametrize("every", [8, 10])
@pytest.mark.parametrize("first", [0, 3, 6])
def test_the_same_coins_seen_seldom(coins: list[Frame], every: int, first: int):
    frames = [replace(frame, index=k) for k, frame in enumerate(coins[first::every])]
    set_up = outlet(view={"line_px": 180, "falls": "down"}, motion={"kind": "free_fall"})
    found = count_frames(frames, set_up)
    assert found.result.count == 83


@pytest.mark.parametrize(("falls", "true"), [("down", 2), ("up", 2)])
def test_cars_that_come_and_go(footage: Path, falls: str, true: int):
    """The camera's exposure reacts to each; two go along either lane."""
    clip = footage / "cars-2way" / "car-detection.mp4"
    tally = counted(clip, falls, 216, "belt")
    assert tally.camera.count == true or tally.status is not Status.CLEAN


def test_a_falling_pen(footage: Path):
    """It turns, smeared, before a cluttered wall, and no frame is without it."""
    tally = counted(footage / "falling-pen" / "falling_pen.avi", "down", 215, "free_fall")
    assert tally.camera.count == 1 or tally.status is not Status.CLEAN


def test_a_ball_dropped_past_a_wall(footage: Path):
    tally = counted(footage / "ball-drop" / "ball_drop.mp4", "down", 900, "free_fall")
    assert (tally.camera.count, tally.camera.against) == (1, 0)
    (passage,) = [p.passage for p in tally.passages if p.passage.parts]
    # By eye in frame 175 ± 1 of 30 a second.
    assert passage.t_ns * 1e-9 * 29.995 == pytest.approx(175, abs=2.5)
    assert "120" in " ".join(note.text for note in tally.notes)


def test_a_ball_that_bounces(footage: Path):
    tally = counted(footage / "ball-drop" / "ball_drop.mp4", "down", 1450, "free_fall")
    assert (tally.camera.count, tally.camera.against) == (2, 1)


@pytest.mark.parametrize(("line", "frame"), [(400, 37), (581, 49), (800, 61)])
def test_a_ball_that_is_in_view_from_the_start(footage: Path, line: int, frame: int):
    tally = counted(footage / "freefall-blueball" / "freefall.mp4", "down", line, "free_fall")
    # One, and nothing in the 160 empty frames after it.
    assert [p.passage.parts for p in tally.passages] == [1]
    assert tally.count == 1
    assert tally.passages[0].passage.t_ns * 1e-9 * 30 == pytest.approx(frame, abs=1.5)


def test_a_bolt_on_a_belt(footage: Path):
    clip = footage / "bolt-conveyor" / "bolt-multi-size-detection.gif"
    tally = counted(clip, "right", 240, "belt")
    assert (tally.camera.count, tally.camera.against) == (1, 0)


def test_cars_seen_from_above(footage: Path):
    tally = counted(footage / "traffic" / "bgs_video.avi", "right", 480, "belt")
    assert (tally.camera.count, tally.camera.against) == (5, 0)
    frames = [p.passage.t_ns * 1e-9 * 30 for p in tally.passages if p.passage.parts]
    # By eye; the middle of a car nearly as long as the view is soon said and hard to see.
    assert frames == pytest.approx([87, 133, 146, 220, 317], abs=4)
