"""Bags of a counted recording: whose clock, which line, and what is left unknown."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bags_by_hand import G, gate
from counting import outlet
from tallies import paired, passage, tally

from viscount.codes import Code
from viscount.devices.triggers.gate_log import GateLog
from viscount.errors import UsageError
from viscount.offline.bags import GateSeen, bags_again, gate_seen, with_bags
from viscount.report.tally_json import tally_json
from viscount.report.tally_reading import read_tally
from viscount.tally import Reason, SetUp, Tally
from viscount.values import Direction, Falls, Status

SCALE = 4.0
OUTLET = outlet(
    view={"scale_px_per_mm": SCALE, "lip_px": -80.0, "line_px": 300.0, "falls": "down"},
    gate={"at_px": 340.0},
    motion={"kind": "free_fall"},
    part={"name": "part", "along_fall_mm": 8.0},
)
LINE_S = 0.5 + 0.04 * np.arange(8)
"""At 1500 mm/s a part needs some 4 ms from its head at the line to its head at the blade."""


def counted(times_s=LINE_S, *, line_px: float = 300.0, at: str = "above_blade", **more) -> Tally:  # type: ignore[no-untyped-def]
    set_up = SetUp(
        falls=Falls.DOWN, line_px=line_px, view_px=400.0, scale_px_per_mm=SCALE,
        acceleration_px_s2=G * SCALE, head_share=0.5, quiet_s=1.0,
    )  # fmt: skip
    frames = replace(tally().frames, end_s=5.0)
    return tally(times_s, set_up=set_up, counted_at=at, frames=frames, **more)


def seen(*at_s: float, first_shuts: bool = True, clock="capture", lay=None, **more) -> GateSeen:  # type: ignore[no-untyped-def]
    log = GateLog(
        path=Path("gate.csv"), clock=clock, sigma_s=1e-4, first_shuts=first_shuts, at_s=at_s
    )
    return GateSeen(**{"log": log, "strokes": gate(), "lay_before": lay, **more})


def codes(reasons: tuple[Reason, ...]) -> set[Code]:
    return {reason.code for reason in reasons}


AFTER_SIX = 0.5 + 0.04 * 5 + 0.018


def test_above_the_blade_the_log_tells_what_is_in_the_bag() -> None:
    found = with_bags(counted(), OUTLET, seen(AFTER_SIX))
    assert (found.in_bag, found.held) == (6, 2)
    assert [bag.status for bag in found.bags] == [Status.CLEAN]
    assert found.count == 8


def test_above_the_blade_nothing_is_known_without_a_log() -> None:
    found = with_bags(counted(), OUTLET, None)
    assert (found.in_bag, found.held, found.bags) == (None, None, ())


def test_below_the_blade_each_pour_is_a_bag() -> None:
    made = counted(line_px=380.0, at="below_blade")
    own = [replace(p, pour=1 if k < 6 else 2) for k, p in enumerate(made.passages)]
    found = with_bags(replace(made, passages=tuple(own)), OUTLET, None)
    assert [bag.content for bag in found.bags] == [6, 2]
    assert (found.in_bag, found.held) == (8, None)
    assert all(bag.held_after is None for bag in found.bags)
    assert all(bag.status is Status.CLEAN for bag in found.bags)


def test_below_the_blade_a_part_that_was_held_falls_into_the_next_bag() -> None:
    """It crosses slowly, 20 mm below the blade from where it fell from rest."""
    times = [*LINE_S[:6], 1.26]
    made = counted(times, line_px=420.0, at="below_blade")
    slow = passage(7, 1.26, speed_px_s=SCALE * np.sqrt(2 * G * 20.0))
    made = replace(made, passages=(*made.passages[:6], slow))
    found = with_bags(made, OUTLET, seen(0.74, 1.2, 1.6, strokes=None))
    assert [bag.content for bag in found.bags] == [6, 1]
    assert [bag.status for bag in found.bags] == [Status.CLEAN] * 2


def test_the_boards_clock_is_turned_into_the_captures() -> None:
    made = counted()
    agreement = paired().agreement
    assert agreement is not None
    fitted = replace(
        agreement, clock_offset_s=100.0, clock_drift_ppm=50.0, offset_sigma_s=1e-4,
        drift_sigma_ppm=1.0,
    )  # fmt: skip
    pulses = paired().pulses[:1]
    made = replace(made, agreement=fitted, pulses=pulses)
    on_board = 100.0 + AFTER_SIX * (1 + 50e-6)
    found = with_bags(made, OUTLET, seen(on_board, clock="board"))
    assert (found.in_bag, found.held) == (6, 2)
    assert [bag.status for bag in found.bags] == [Status.CLEAN]


def test_without_a_fitted_clock_the_boards_log_says_nothing() -> None:
    for made in (counted(), replace(counted(), agreement=paired().agreement)):
        found = with_bags(made, OUTLET, seen(AFTER_SIX, clock="board"))
        assert (found.in_bag, found.bags) == (None, ())
        assert Code.GATE_LOG_UNTIMED in codes(found.notes)


def test_commands_before_the_recording_say_how_the_gate_stood() -> None:
    found = with_bags(counted(), OUTLET, seen(-3.0, 0.1, AFTER_SIX))
    assert [bag.content for bag in found.bags] == [6]
    assert codes(found.bags[0].reasons) == {Code.BAG_HELD_UNKNOWN}
    assert with_bags(counted(), OUTLET, seen(-3.0, 0.1, AFTER_SIX, lay=2)).in_bag == 8


def test_a_log_of_another_recording_is_told() -> None:
    found = with_bags(counted(), OUTLET, seen(100.0, 101.0, 102.0))
    assert all(Code.GATE_LOG_OUTSIDE in codes(bag.reasons) for bag in found.bags)


def test_a_gate_that_never_opens_is_told() -> None:
    found = with_bags(counted(), OUTLET, seen(-3.0, lay=0))
    assert (found.in_bag, found.held, found.bags) == (0, 8, ())
    assert Code.GATE_NEVER_OPENED in codes(found.notes)


@pytest.mark.parametrize("status", [Status.DOUBTFUL, Status.CLEAN])
def test_a_count_in_doubt_leaves_no_bag_clean(status: Status) -> None:
    doubt = Reason(code=Code.FRAMES_LOST, text="gap")
    made = counted()
    if status is Status.DOUBTFUL:
        made = replace(made, status=status, reasons=(doubt,))
    else:
        made = replace(made, camera=replace(made.camera, count=9))
    (bag,) = with_bags(made, OUTLET, seen(AFTER_SIX)).bags
    assert codes(bag.reasons) == {Code.BAG_COUNT_DOUBTFUL}
    (below,) = with_bags(replace(made, counted_at="below_blade"), OUTLET, None).bags
    assert Code.BAG_COUNT_DOUBTFUL in codes(below.reasons)


def test_a_stored_tally_that_a_beam_contradicts_has_no_clean_bag() -> None:
    doubt = Reason(code=Code.COUNTERS_DIFFER, text="differ")
    for made in (
        with_bags(counted(), OUTLET, seen(AFTER_SIX)),
        with_bags(counted(line_px=380.0, at="below_blade"), OUTLET, None),
    ):
        assert bags_again(made, 1) == made
        contradicted = replace(made, status=Status.DOUBTFUL, reasons=(doubt,))
        for _ in range(2):
            contradicted = bags_again(contradicted, 1)
            (bag,) = contradicted.bags
            assert (bag.content, bag.status) == (made.bags[0].content, Status.DOUBTFUL)
            assert [r.code for r in bag.reasons] == [Code.BAG_COUNT_DOUBTFUL]
        invalid = replace(made, status=Status.INVALID, count=None)
        assert bags_again(invalid, 1).bags == ()


def test_bags_are_read_back_from_a_stored_tally(tmp_path: Path) -> None:
    made = with_bags(counted(), OUTLET, seen(AFTER_SIX - 0.002))
    file = tmp_path / "tally.json"
    file.write_text(json.dumps(tally_json(made)), encoding="utf-8")
    found = read_tally(file)
    assert (found.in_bag, found.held) == (made.in_bag, made.held)
    for bag, stored in zip(made.bags, found.bags, strict=True):
        assert replace(stored, chance=bag.chance) == bag
        assert stored.chance == pytest.approx(bag.chance, abs=1e-6)


def test_parts_that_went_back_up_leave_no_bag_clean() -> None:
    made = counted()
    back = passage(9, 0.9, direction=Direction.AGAINST)
    made = replace(
        made, passages=(*made.passages, back), count=7, camera=replace(made.camera, against=1)
    )
    (bag,) = with_bags(made, OUTLET, seen(AFTER_SIX)).bags
    assert bag.status is Status.DOUBTFUL


def test_an_invalid_count_says_nothing_of_bags() -> None:
    made = replace(counted(), status=Status.INVALID, count=None)
    assert with_bags(made, OUTLET, seen(AFTER_SIX)).bags == ()


def test_a_slowed_clip_has_no_times_for_the_gate() -> None:
    slowed = Reason(code=Code.CAPTURE_RATE_SLOWED, text="slowed")
    found = with_bags(replace(counted(), reasons=(slowed,)), OUTLET, seen(AFTER_SIX))
    assert found.bags == ()
    assert Code.GATE_LOG_UNTIMED in codes(found.notes)


def test_what_is_missing_is_asked_for(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="height of the blade"):
        with_bags(counted(at="unknown"), OUTLET, seen(AFTER_SIX))
    with pytest.raises(UsageError, match="strokes"):
        with_bags(counted(), OUTLET, seen(AFTER_SIX, strokes=None))
    for given in ((None, tmp_path / "strokes.csv", None), (None, None, 2)):
        with pytest.raises(UsageError, match="no log"):
            gate_seen(*given)
    with pytest.raises(UsageError, match="-1 parts"):
        gate_seen(tmp_path / "gate.csv", None, -1)
    assert gate_seen(None, None, None) is None
