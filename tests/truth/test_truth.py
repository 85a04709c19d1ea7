"""The simulator's truth against its own pictures, and against plain arithmetic."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import Scene, load_scene
from viscount.simulate.truth import Truth

SCENES = Path(__file__).parents[2] / "fixtures" / "scenes"


def pour(name: str, **update: object) -> Pour:
    scene = load_scene(SCENES / f"{name}.yaml")
    return simulate(Scene.model_validate(scene.model_dump() | update))


@pytest.mark.parametrize(
    "name", ["plain", "tumbling-screws", "tumbling-nuts", "near-camera", "tilted-camera"]
)
def test_a_picture_taken_at_the_crossing_has_its_centroid_on_the_line(name: str) -> None:
    """The centroid of the darkness in the picture of one part alone: no outline, no offset."""
    made = pour(name)
    up, line_px = upright(made.scene), made.scene.view.line_px
    for k in range(0, len(made.truth.parts), 5):
        t_ns = made.truth.parts[k].line_t_ns
        assert t_ns is not None
        time = replace(made.times[0], shown_t_ns=t_ns, exposure_s=0.0)
        dark = made.scene.camera.background_grey - made.studio.part_alone(time, k).astype(float)
        rows = np.arange(up.rows)
        centroid = (dark.sum(axis=1) * rows).sum() / dark.sum()
        assert centroid == pytest.approx(up.along_row(line_px), abs=0.02)


def test_a_bag_holds_what_was_held_before_and_crossed_less_what_is_held_after() -> None:
    """The counting line lies above the blade; each pour of eight parts fills one bag."""
    truth = pour("gate-held").truth
    for bag in truth.bags:
        crossed = sum(p.pour == bag.bag and p.line_t_ns is not None for p in truth.parts)
        assert bag.content == bag.held_before + crossed - bag.held_after
        assert bag.content == sum(p.bag == bag.bag for p in truth.parts)
    assert [bag.content for bag in truth.bags] == [7, 9]


def test_what_is_held_above_the_line_takes_nothing_from_the_bag() -> None:
    """Two parts lie on the blade, the upper of them has not yet crossed the line."""
    truth = pour("gate-pinch").truth
    (bag,) = truth.bags
    held = [p for p in truth.parts if p.fate in ("held", "pinched")]
    past = [p for p in held if p.line_t_ns is not None]
    assert (len(held), len(past)) == (2, 1)
    assert bag.held_after + bag.pinched_after == len(held)
    assert bag.content == truth.crossed - len(past)


def test_frames_that_do_not_count_as_sightings_still_show_a_part() -> None:
    """Damaged pictures are delivered: a part in them is not hidden, and not separable by them."""
    plain = pour("plain").truth
    seen = [f.number for f in plain.frames if any(s.part == 7 for s in f.seen)]
    damaged = pour("plain", recording={"faults": {"damaged": tuple(seen)}}).truth
    dropped = pour("plain", recording={"faults": {"dropped": tuple(seen)}}).truth
    frames = [truth.parts[7].frames_visible for truth in (plain, damaged, dropped)]
    assert frames == [len(seen), len(seen), 0]
    assert [t.parts[7].hidden for t in (plain, damaged, dropped)] == [False, False, True]
    assert [t.parts[7].separable.with_outlet for t in (plain, damaged, dropped)] == [True, 0, 0]


def kinds(truth: Truth) -> set[str]:
    """The kinds of reasons that are given."""
    words = {
        "whole": "whole sightings",
        "clear": "px of background",
        "contrast": "contrast below",
        "readout": "speed times line time",
        "ends": "neither front nor tail",
    }
    found = {k for k, text in words.items() for told in truth.separable.reasons if text in told}
    assert all(any(text in told for text in words.values()) for told in truth.separable.reasons)
    return found


PLAIN = {"fps": 120.0, "exposure_us": 150.0, "blur_px": 0.6}


@pytest.mark.parametrize(
    ("camera", "expected"),
    [
        ({}, set()),
        ({"fps": 30.0}, {"whole"}),
        ({"noise": 30.0}, {"contrast"}),
        ({"shot_noise": 4.0}, {"contrast"}),
        ({"readout": "down", "line_time_us": 125.0, "fps": 16.0}, {"readout", "whole"}),
        ({"readout": "up", "line_time_us": 125.0, "fps": 16.0}, {"readout", "whole"}),
        ({"readout": "left", "line_time_us": 50.0}, set()),
    ],
)
def test_each_condition_fails_where_its_own_cause_is(camera: dict, expected: set[str]) -> None:
    truth = pour("plain", camera=PLAIN | camera).truth
    assert kinds(truth) == expected
    assert truth.separable.bare is not bool(expected)


@pytest.mark.parametrize(("exposure_us", "expected"), [(150.0, set()), (8000.0, {"clear"})])
def test_blur_over_the_gap_leaves_no_background(exposure_us: float, expected: set[str]) -> None:
    """Every 18 ms at about 5 px/ms: 90 px apart, 64 px long; 8 ms of exposure are 40 px."""
    release = {"kind": "escapement", "count": 10, "interval_ms": 18.0}
    camera = PLAIN | {"exposure_us": exposure_us}
    assert kinds(pour("plain", camera=camera, release=release).truth) == expected


def test_neighbours_that_nearly_touch_leave_no_background() -> None:
    """Two screws side by side, their heads 7 mm broad: 1 px of background at 7.25 mm."""
    scene = load_scene(SCENES / "plain.yaml")
    for beside_mm, separable in ((7.25, False), (9.0, True)):
        pairs = {
            "kind": "clumps",
            "groups": 5,
            "sizes": (2,),
            "interval_ms": 60.0,
            "beside_mm": beside_mm,
        }
        still = {"lanes": {}, "turning": {}, "release": pairs}
        truth = simulate(Scene.model_validate(scene.model_dump() | still)).truth
        assert truth.separable.bare is separable
        assert kinds(truth) == (set() if separable else {"clear"})
