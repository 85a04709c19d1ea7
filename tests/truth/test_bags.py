"""Bags against the simulator's own gate: chains of cuts, ready scenes, and a drawn clip."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from benchmarks.bagging.chain import drawn_world, filled, measured_strokes, planned
from benchmarks.bagging.clips import STROKES, scenes
from commands import FIXTURES, call
from tallies import tally, true_tally

from viscount.offline.bags import gate_seen, with_bags
from viscount.outlet import load_outlet
from viscount.simulate.barrier.edge import device_s
from viscount.simulate.gate_log import write_gate_log
from viscount.simulate.outlet_file import outlet_text
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import Beam, Scene, load_scene
from viscount.tally import SetUp, Tally
from viscount.values import Falls, Status


@pytest.mark.parametrize("seed", [0, 3, 5, 11, 31])
def test_no_bag_is_called_clean_and_is_not(seed: int) -> None:
    """Three of the machines command carelessly, so that parts are pinched."""
    world = drawn_world(seed)
    strokes = measured_strokes(world)
    plan = planned(world, strokes, pours=3)
    made = [one for chain in range(3) for one in filled(world, plan, strokes, 50 * seed + chain)]
    for bag in made:
        if bag.inferred.status is Status.CLEAN:
            assert (bag.content, bag.pinched) == (bag.inferred.content, 0)
    assert sum(b.inferred.low <= b.content <= b.inferred.high for b in made) >= len(made) - 1
    upset = any(b.pinched or b.content != 6 for b in made)
    assert upset == (world.careless_ms > 0)
    assert any(b.inferred.status is Status.CLEAN for b in made)


def known(scene: Scene, folder: Path) -> Tally:
    """Return the tally of whoever knows the truth of a scene, with the bags it comes to."""
    pour = simulate(scene)
    (folder / "strokes.csv").write_text(STROKES, encoding="utf-8")
    (folder / "outlet.yaml").write_text(outlet_text(scene), encoding="utf-8")
    assert pour.blade is not None
    write_gate_log(folder / "gate.csv", pour.blade)
    view = scene.view
    set_up = SetUp(
        falls=Falls.DOWN, line_px=view.line_px, view_px=float(view.height_px),
        scale_px_per_mm=view.scale_px_per_mm, acceleration_px_s2=9806.65 * view.scale_px_per_mm,
        head_share=0.5, quiet_s=1.0,
    )  # fmt: skip
    beyond = view.lip_px + (scene.gate.below_lip_mm if scene.gate else 0) * view.scale_px_per_mm
    made = true_tally(pour.truth)
    made = replace(
        made,
        set_up=set_up,
        frames=replace(tally().frames, end_s=pour.end_s),
        camera=replace(made.camera, count=made.count or 0),
        counted_at="below_blade" if view.line_px > beyond else "above_blade",
    )
    gate = gate_seen(folder / "gate.csv", folder / "strokes.csv", None)
    return with_bags(made, load_outlet(folder / "outlet.yaml"), gate)


def test_the_ready_scene_with_held_parts(tmp_path: Path) -> None:
    scene = load_scene(FIXTURES / "scenes" / "gate-held.yaml")
    truth = simulate(scene).truth.bags
    found = known(scene, tmp_path)
    assert [b.content for b in found.bags] == [b.content for b in truth] == [7, 9]
    assert [b.held_before for b in found.bags] == [b.held_before for b in truth] == [0, 1]
    assert [b.status for b in found.bags] == [Status.CLEAN] * 2


def test_the_ready_scene_below_the_blade(tmp_path: Path) -> None:
    scene = load_scene(FIXTURES / "scenes" / "gate-held.yaml")
    scene = scene.model_copy(update={"view": scene.view.model_copy(update={"line_px": 395.0})})
    found = known(scene, tmp_path)
    assert found.counted_at == "below_blade"
    assert [b.content for b in found.bags] == [7, 9]
    assert [b.status for b in found.bags] == [Status.CLEAN] * 2


def test_the_ready_scene_with_a_pinched_part(tmp_path: Path) -> None:
    scene = load_scene(FIXTURES / "scenes" / "gate-pinch.yaml")
    (truth,) = simulate(scene).truth.bags
    (found,) = known(scene, tmp_path).bags
    assert (found.content, found.pinched) == (truth.content, truth.pinched_after) == (4, 1)
    # One more lies on the pinched one, its middle still above the line.
    assert truth.held_after == 1
    assert found.held_after == simulate(scene).truth.crossed - 5 == 0
    assert found.status is Status.DOUBTFUL
    assert found.low <= truth.content <= found.high


def test_a_drawn_clip_the_whole_way(tmp_path: Path) -> None:
    (scene,) = scenes(1)
    beam = Beam(below_lip_mm=60.0, width_mm=1.0, offset_s=1234.5, drift_ppm=80.0)
    uneven = scene.release.model_copy(update={"jitter_ms": 3.0})
    scene = scene.model_copy(update={"beam": beam, "release": uneven})
    files = write_pour(scene, tmp_path / "pour")
    strokes = tmp_path / "strokes.csv"
    strokes.write_text(STROKES, encoding="utf-8")
    words = ["count", files.clip, "--outlet", files.outlet, "--gate-log", files.gate]
    answer = call(*words, "--strokes", strokes, "--json")
    truth = simulate(scene).truth.bags
    told = json.loads(answer.out)
    assert answer.status == 0
    assert [b["content"] for b in told["bags"]] == [b.content for b in truth] == [6, 2]
    assert {b["status"] for b in told["bags"]} == {"clean"}
    assert (told["in_bag"], told["held"], told["counted_at"]) == (8, 0, "above_blade")
    # The same commands by the clock of the beam's board.
    on_board = tmp_path / "board.csv"
    own = [
        row.split(",") for row in Path(str(files.gate)).read_text(encoding="utf-8").splitlines()[3:]
    ]
    rows = [f"{device_s(beam, float(t)):.6f},{command}" for t, command in own]
    head = ["# clock board", "# sigma_ms 0.05", "time_s,command"]
    on_board.write_text("\n".join([*head, *rows, ""]), encoding="utf-8")
    words[-1] = on_board
    with_beam = call(*words, "--strokes", strokes, "--beam", files.beam, "--json")
    again = json.loads(with_beam.out)
    assert with_beam.status == 0
    assert [b["content"] for b in again["bags"]] == [6, 2]
    assert {b["status"] for b in again["bags"]} == {"clean"}
    without = call(*words, "--strokes", strokes)
    assert without.status == 10
    assert "no fitted clock" in without.out
    # A gate that was told nothing sensible ends in words, not in a number.
    log = Path(str(files.gate)).read_text(encoding="utf-8")
    broken = tmp_path / "broken.csv"
    broken.write_text(log.replace(",open", ",shut"), encoding="utf-8")
    words[-1] = broken
    assert "two commands to shut" in call(*words, "--strokes", strokes).err
    assert call(*words, "--strokes", strokes).status == 2
    words[-1] = tmp_path / "none.csv"
    assert call(*words, "--strokes", strokes).status == 2
