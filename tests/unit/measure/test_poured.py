"""Pours of a tally as streams of parts."""

import json
from dataclasses import replace

import numpy as np
import pytest
from counting import outlet
from tallies import SET_UP, passage, tally

from viscount.codes import Code
from viscount.measure.heights import height_below_line
from viscount.measure.lengths import EDGE_PX, SHOWN_SMEAR
from viscount.measure.own_sigma import PLACE_FLOOR_PX
from viscount.measure.poured import poured, pours_of_tally
from viscount.report.tally_json import tally_json
from viscount.report.tally_reading import read_tally
from viscount.tally import Reason, Tally
from viscount.values import Direction, Falls

G = 9806.65
LENGTH_MM = (32.0 - EDGE_PX - SHOWN_SMEAR * 1e-4 * 6000.0) / 4.0
"""32 px seen, less what the pixels of both ends add, and an exposure that is usual."""
FALLS = {"motion": {"kind": "free_fall"}, "view": {"scale_px_per_mm": 4.0, "lip_px": 20.0}}


def fallen(*passages: object, **changes: object) -> Tally:
    made = {"set_up": replace(SET_UP, acceleration_px_s2=4.0 * G, head_share=0.25), **changes}
    own = passages or tuple(passage(k, 0.5 + 0.01 * k) for k in range(1, 5))
    return tally((), passages=own, **made)


def test_lengths_are_mm_where_the_scale_is_known() -> None:
    (one,) = poured(fallen(), outlet(**FALLS))
    assert one.unit == "mm"
    assert one.speed == pytest.approx([1500.0] * 4)
    assert one.ahead == pytest.approx([0.25 * LENGTH_MM] * 4)
    assert one.behind == pytest.approx([0.75 * LENGTH_MM] * 4)
    assert one.acceleration == pytest.approx(G)
    # 2.5 µs of its own, and what the pixel grid and the shape leave.
    assert (one.sigma_s > np.hypot(2.5e-6, PLACE_FLOOR_PX / 6000.0)).all()
    assert (one.sigma_s < 5e-5).all()
    assert 0.005 <= one.sigma_speed_share < 0.01


def test_lengths_are_px_where_it_is_not_and_the_scale_is_in_nothing() -> None:
    set_up = replace(SET_UP, acceleration_px_s2=4.0 * G, scale_px_per_mm=None)
    (one,) = poured(fallen(set_up=set_up), outlet())
    assert one.unit == "px"
    assert one.speed == pytest.approx([6000.0] * 4)


def test_what_goes_up_or_may_have_passed_is_left_out_and_the_rest_is_in_order() -> None:
    up = passage(5, 0.515, direction=Direction.AGAINST, speed_px_s=-100.0)
    maybe = passage(6, 0.525, parts=0, doubt=0.4)
    found = poured(fallen(passage(2, 0.52), up, maybe, passage(1, 0.51)), outlet(**FALLS))
    assert found[0].t_s == pytest.approx([0.51, 0.52])


def test_a_clump_is_one_entry_that_is_surely_not_one_part() -> None:
    clump = passage(2, 0.52, parts=3, doubt=0.1, length_px=96.0)
    (pour,) = pours_of_tally(fallen(passage(1, 0.51), clump, passage(3, 0.53)), outlet(**FALLS))
    assert pour.poured.doubt == pytest.approx([0.0003, 0.9, 0.0003])
    assert list(pour.first_part) == [1, 2, 5]
    assert list(pour.last_part) == [1, 4, 5]


def test_pours_are_apart() -> None:
    second = replace(passage(9, 4.0), pour=2)
    found = pours_of_tally(fallen(passage(1, 0.51), passage(2, 0.52), second), outlet(**FALLS))
    assert [(p.number, len(p.poured)) for p in found] == [(1, 2), (2, 1)]
    assert found[1].passages == (9,)


def test_a_part_without_a_length_has_the_usual_one_or_the_stated_or_none() -> None:
    bare = [passage(k, 0.5 + 0.01 * k, length_px=None) for k in (1, 2)]
    (usual,) = poured(fallen(*bare, passage(3, 0.53)), outlet(**FALLS))
    assert usual.ahead == pytest.approx([0.25 * LENGTH_MM] * 3)
    (stated,) = poured(fallen(*bare), outlet(**FALLS, part={"along_fall_mm": 16.0}))
    assert stated.behind == pytest.approx([12.0] * 2)
    (unknown,) = poured(fallen(*bare), outlet(**FALLS))
    assert np.isnan(unknown.ahead).all()


@pytest.mark.parametrize(
    ("shape", "low", "high"), [("washer", 0.01, 0.025), ("screw", 0.003, 0.006)]
)
def test_a_stated_fall_is_known_to_local_gravity_and_drag(
    shape: str, low: float, high: float
) -> None:
    (one,) = poured(fallen(), outlet(**FALLS, part={"shape": shape}))
    assert low < one.sigma_acceleration / one.acceleration < high


def test_what_parts_taught_is_known_as_well_as_they_were_seen() -> None:
    learned = replace(SET_UP, acceleration_px_s2=0.97 * 4.0 * G)
    known = outlet(**FALLS)

    def share(*, sigma_ns: int, last: int, count: int) -> float:
        seen = [
            passage(k, 0.5 + 0.01 * k, sigma_ns=sigma_ns, first_frame=0, last_frame=last)
            for k in range(1, count + 1)
        ]
        (pour,) = pours_of_tally(fallen(*seen, set_up=learned), known)
        assert pour.origin == "learned"
        return pour.poured.sigma_acceleration / pour.poured.acceleration

    plain = share(sigma_ns=50_000, last=6, count=4)
    assert share(sigma_ns=50_000, last=12, count=4) < plain
    assert share(sigma_ns=100_000, last=6, count=4) > plain
    assert share(sigma_ns=50_000, last=6, count=40) < plain
    assert share(sigma_ns=50_000, last=2, count=4) >= 0.3


def test_a_belt_has_no_acceleration_and_no_doubt_of_it() -> None:
    belt = outlet(motion={"kind": "belt"}, view={"scale_px_per_mm": 4.0})
    (one,) = poured(fallen(set_up=SET_UP), belt)
    assert (one.acceleration, one.sigma_acceleration) == (0.0, 0.0)


def test_times_that_are_refused_make_no_pour() -> None:
    slow = Reason(code=Code.CAPTURE_RATE_SLOWED, text="apparent g 0.15 m/s2")
    assert poured(fallen(reasons=(slow,)), outlet(**FALLS)) == ()
    assert poured(fallen(set_up=None), outlet(**FALLS)) == ()


def test_a_stored_tally_pours_the_same(tmp_path) -> None:
    path = tmp_path / "tally.json"
    made = fallen(camera=replace(tally().camera, count=4), count_high=4)
    path.write_text(json.dumps(tally_json(made)), encoding="utf-8")
    (direct,), (stored,) = (poured(t, outlet(**FALLS)) for t in (made, read_tally(path)))
    assert stored.unit == direct.unit
    for name in set(direct.__slots__) - {"unit"}:
        assert getattr(stored, name) == pytest.approx(getattr(direct, name), rel=1e-6), name


@pytest.mark.parametrize(("falls", "sign"), [(Falls.DOWN, 1), (Falls.UP, -1)])
def test_heights_count_down_from_the_line(falls: Falls, sign: int) -> None:
    set_up = replace(SET_UP, falls=falls)
    made = outlet(
        view={"lip_px": 80.0 - sign * 60.0, "scale_px_per_mm": 4.0},
        gate={"below_lip_mm": 90.0},
        beam={"at_px": 80.0 + sign * 40.0},
    )
    heights = {at: height_below_line(at, made, set_up) for at in ("lip", "beam", "gate")}
    assert [heights[at].below_line for at in heights] == pytest.approx([-15.0, 10.0, 75.0])
    assert [heights[at].sigma for at in heights] == pytest.approx([0.25, 0.25, 1.0308], abs=1e-4)
    assert {one.unit for one in heights.values()} == {"mm"}


def test_a_height_that_nothing_tells_is_unknown() -> None:
    bare = replace(SET_UP, scale_px_per_mm=None)
    by_ruler = outlet(gate={"below_lip_mm": 90.0}, view={"lip_px": 20.0})
    assert height_below_line("gate", by_ruler, bare) is None
    assert height_below_line("beam", by_ruler, SET_UP) is None
    assert height_below_line("lip", outlet(), SET_UP) is None
    assert height_below_line("lip", by_ruler, bare).unit == "px"
