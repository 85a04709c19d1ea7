"""What makes parts separable, and what each condition does when it alone fails."""

from dataclasses import replace
from pathlib import Path

import pytest

from viscount.simulate.pour import simulate
from viscount.simulate.scene import Scene, load_scene
from viscount.simulate.truth import FrameTruth, Seen, Separable, Truth
from viscount.simulate.truth.separable import by_part, part_separable, pour_separable

SCENES = Path(__file__).parents[4] / "fixtures" / "scenes"
PLAIN = load_scene(SCENES / "plain.yaml")
GOOD = Seen(part=0, x_px=0.0, y_px=0.0, whole=True, visible=1.0, clear_px=9.0, contrast_sigma=50.0)


def truth(**update: object) -> Truth:
    return simulate(PLAIN.model_copy(update=update)).truth


def test_three_good_sightings_are_enough() -> None:
    assert part_separable([GOOD] * 3, 0.3) == Separable(with_outlet=True, bare=True)
    alone = replace(GOOD, clear_px=None)
    assert part_separable([alone] * 3, 0.0).bare


def test_two_need_a_known_speed() -> None:
    found = part_separable([GOOD] * 2, 0.0)
    assert (found.with_outlet, found.bare) == (True, False)
    assert found.reasons == ("2 whole sightings",)


@pytest.mark.parametrize(
    ("sightings", "ratio", "reason"),
    [
        ([GOOD], 0.0, "1 whole sightings"),
        ([GOOD, replace(GOOD, whole=False)], 0.0, "1 whole sightings"),
        ([GOOD, replace(GOOD, visible=0.9), replace(GOOD, visible=0.5)], 0.0, "1 whole sightings"),
        ([GOOD, *[replace(GOOD, clear_px=1.9)] * 3], 0.0, "1 sightings with 2 px"),
        ([replace(GOOD, contrast_sigma=5.9)] * 4, 0.0, "contrast below 6 sigma"),
        ([GOOD] * 4, 0.61, "speed times line time 0.61"),
        ([GOOD] * 4, -0.7, "speed times line time 0.70"),
    ],
)
def test_each_condition_alone(sightings: list[Seen], ratio: float, reason: str) -> None:
    found = part_separable(sightings, ratio)
    assert not found.with_outlet
    assert not found.bare
    assert any(told.startswith(reason) for told in found.reasons)


def test_only_frames_that_show_their_own_moment_count() -> None:
    frame = FrameTruth(number=0, shows=0, t_ns=0, file_t_ns=0, new=True, seen=(GOOD,))
    assert by_part([frame, replace(frame, new=False)]) == {0: [GOOD]}


def test_a_stream_without_front_and_tail_needs_its_speed() -> None:
    good = (0, Separable(with_outlet=True, bare=True))
    found = pour_separable([good], ends_seen=False)
    assert (found.with_outlet, found.bare) == (True, False)
    assert "front" in found.reasons[0]


def test_what_a_bright_band_cuts_in_two_needs_its_length() -> None:
    good = (0, Separable(with_outlet=True, bare=True))
    found = pour_separable([good], ends_seen=True, in_pieces=True)
    assert (found.with_outlet, found.bare) == (True, False)
    assert "band" in found.reasons[0]


def at(number: int, *places: float) -> FrameTruth:
    seen = tuple(replace(GOOD, part=k, y_px=y) for k, y in enumerate(places))
    return FrameTruth(number=number, shows=number, t_ns=0, file_t_ns=0, new=True, seen=seen)


def test_a_place_that_is_never_empty_shows_no_part() -> None:
    """Parts that stand still in every picture, as where they are as far apart as they move."""
    standing = [at(k, 50.0, 100.0) for k in range(20)]
    assert by_part(standing, 28.0) == {}
    passing = [at(k, 50.0 + 5 * k, 100.0 + 5 * k) for k in range(20)]
    assert {part: len(seen) for part, seen in by_part(passing, 28.0).items()} == {0: 20, 1: 20}
    begun_before = [at(k) for k in range(4)] + standing
    assert len(by_part(begun_before, 28.0)[0]) == 20


def test_the_plain_scene_is() -> None:
    assert truth().separable == Separable(with_outlet=True, bare=True)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("hidden-by-noise", "contrast"),
        ("blur-over-gap", "px of background"),
        ("readout-too-fast", "speed times line time"),
        ("too-few-sightings", "whole sightings"),
        ("pairs-beside", "px of background"),
        ("mid-stream", "whole sightings"),
        ("damaged-frames", "whole sightings"),
    ],
)
def test_ready_scenes_that_are_not(name: str, reason: str) -> None:
    found = simulate(load_scene(SCENES / f"{name}.yaml")).truth.separable
    assert not found.with_outlet
    assert any(reason in told for told in found.reasons)


def test_hidden_parts_are_told() -> None:
    """Pairs in one line of sight: the farther one is in no frame."""
    found = simulate(load_scene(SCENES / "deep-lane.yaml")).truth
    hidden = [part for part in found.parts if part.hidden]
    assert hidden
    assert all(part.frames_visible == 0 for part in hidden)
    assert not found.separable.with_outlet


def test_a_gap_takes_the_sightings_away() -> None:
    gone: Scene = load_scene(SCENES / "lost-frames.yaml")
    found = simulate(gone).truth
    assert not found.separable.with_outlet
    assert any(part.hidden for part in found.parts)


def test_bags_add_up() -> None:
    """Content is what was held before, and fell, less what is held after."""
    found = simulate(load_scene(SCENES / "gate-held.yaml")).truth
    first, second = found.bags
    assert first.held_after == second.held_before == 1
    assert first.content + second.content == sum(p.fate == "in_bag" for p in found.parts)
    assert first.content == 7


def test_a_part_is_pinched_where_the_scene_says_so() -> None:
    found = simulate(load_scene(SCENES / "gate-pinch.yaml")).truth
    assert [part.fate for part in found.parts].count("pinched") == 1
    assert found.bags[0].pinched_after == 1


def test_a_bounced_part_crosses_three_times() -> None:
    found = simulate(load_scene(SCENES / "bounce.yaml")).truth
    bounced = [part for part in found.parts if part.recrossings]
    assert [part.part for part in bounced] == [2, 5]
    for part in bounced:
        assert [r.direction for r in part.recrossings] == ["against", "with"]
    assert found.crossed == 8
