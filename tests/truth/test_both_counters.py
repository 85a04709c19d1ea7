"""Camera and beam of one pour, files in and tally out: the field's cases, the ready scenes, and
what a sceptic would try.
"""

import json
from pathlib import Path

import pytest
import yaml
from beam_logs import due_ms, log_text, ready_pour, written_clip, written_log, written_outlet
from scenes import Shot, box, field_scene
from taught_parts import beam_in, taught_keys

from viscount.codes import Code
from viscount.offline import count
from viscount.tally import Tally
from viscount.values import Pairs, Status

BELT = {"motion": {"kind": "belt"}, "view": {"line_px": 80, "scale_px_per_mm": 4.0}}
BEAM = {"beam": {"at_px": 120.0, "width_mm": 1.0}}
WAY_MS = 20.0
"""From the border of the view to the beam, 120 px at 6000 px/s."""
DARK_MS = 32.0 / 6.0
LEAD_MS = 500.0


def both(folder: Path, shot: Shot, darks: list[tuple[float, float]], **sections: object) -> Tally:
    """Count a shot beside a log of these darks."""
    return count(
        written_clip(folder, shot),
        outlet=written_outlet(folder, **{**BELT, **BEAM, **sections}),
        beam=written_log(folder, darks),
    )


def codes(tally: Tally) -> set[Code]:
    return {reason.code for reason in tally.reasons}


def of_kind(tally: Tally, kind: Pairs) -> list[tuple[int, ...]]:
    return [one.pairing.passages for one in tally.pairings if one.pairing.kind is kind]


def test_too_few_frames_and_twenty_pulses_make_twenty(tmp_path: Path):
    shot = field_scene(fps=30.0, parts=20, pitch_ms=8.0)
    known = {"kind": "belt", "speed_mm_s": 1500.0}
    darks = [(at, DARK_MS) for at in due_ms(20, 8.0, 2000.0, WAY_MS)]
    found = both(tmp_path, shot, darks, motion=known)
    assert (found.count, found.camera.status) == (20, Status.INVALID)
    assert found.status is Status.DOUBTFUL
    assert {Code.TOO_FEW_SIGHTINGS, Code.BEAM_ALONE} <= codes(found)
    assert (found.beam.parts, found.beam.pulses) == (20, 20)
    assert [pour.count for pour in found.pours] == [20]


def test_a_gap_in_the_frames_is_explained_by_the_beam(tmp_path: Path):
    shot = field_scene(parts=10, pitch_ms=25.0, first_ms=50.0, dropped=range(12, 18))
    darks = [(at, DARK_MS) for at in due_ms(10, 25.0, LEAD_MS + 50.0, WAY_MS)]
    found = both(tmp_path, shot, darks)
    # Another part in the gap may have been missed by the beam, too.
    assert (found.count, found.count_low, found.status) == (10, 10, Status.CLEAN)
    assert found.count_high <= 11
    assert (found.camera.count, found.camera.status) == (9, Status.DOUBTFUL)
    assert Code.FRAMES_LOST in {r.code for r in found.camera.reasons}
    (alone,) = [p.pairing for p in found.pairings if p.pairing.kind is Pairs.BEAM_ONLY]
    assert alone.excused
    assert alone.why == "in the camera's blind time"


def test_a_gap_that_a_healthy_beam_saw_nothing_in_is_no_doubt(tmp_path: Path):
    # The gap lies in the quiet before the pour.
    shot = field_scene(parts=10, pitch_ms=25.0, first_ms=250.0, dropped=range(6, 20))
    times = due_ms(10, 25.0, LEAD_MS + 250.0, WAY_MS)
    found = both(tmp_path, shot, [(at, DARK_MS) for at in times])
    assert found.camera.status is Status.DOUBTFUL
    assert (found.count, found.status) == (10, Status.CLEAN)
    # The same gap while the beam was not watching either: its log begins later.
    late = log_text([(at, DARK_MS) for at in times]).splitlines()
    late[1] = f"{5.25 + 0.001 * (LEAD_MS + 240):.6f},0"
    (tmp_path / "beam.csv").write_text("\n".join(late) + "\n", encoding="utf-8")
    found = count(
        tmp_path / "clip.mp4", outlet=tmp_path / "outlet.yaml", beam=tmp_path / "beam.csv"
    )
    assert found.count == 10
    assert found.status is Status.DOUBTFUL
    assert {Code.NEITHER_WATCHED, Code.FRAMES_LOST} <= codes(found)


def test_a_part_taught_in_px_says_nothing_of_pulses_in_mm(tmp_path: Path):
    """32 px of dark, read as 32 mm, would make one part of every four pulses."""
    shot = field_scene(parts=10, pitch_ms=25.0, frames_after=60)
    darks = [(at, DARK_MS) for at in due_ms(10, 25.0, LEAD_MS, WAY_MS)]
    keys = taught_keys(scale=None, length=32.0, area=512.0, gyration=10.3)
    keys["beam"] = beam_in("px", 32.0) | {
        "modes": [{"chance": 1.0, "darks_px": [32.0], "sigma_px": 0.6}]
    }
    found = both(tmp_path, shot, darks, part={"taught": keys})
    assert (found.count, found.beam.parts, found.status) == (10, 10, Status.CLEAN)
    assert of_kind(found, Pairs.AGREED) == [(k,) for k in range(1, 11)]


@pytest.mark.parametrize("with_part", [True, False])
def test_two_screws_in_one_break(tmp_path: Path, with_part: bool):
    times = [25.0 * k for k in range(10)]
    times[5] = times[4] + 3.67
    # Two side by side, so that they overlap along the fall: one region, 1.7 times as long.
    shot = field_scene(times_ms=times, lanes_px=[-9.0, 9.0], frames_after=60)
    darks = [(LEAD_MS + at + WAY_MS, DARK_MS) for at in times if at != times[5]]
    darks[4] = (darks[4][0], 9.0)
    part = {"part": {"shape": "screw", "along_fall_mm": 8.0}} if with_part else {}
    found = both(tmp_path, shot, darks, **part)
    assert (found.count, found.beam.pulses, found.beam.parts) == (10, 9, 10)
    (merged,) = [p.pairing for p in found.pairings if p.pairing.kind is Pairs.MERGED_PULSE]
    assert (merged.pulses, merged.parts) == ((4,), 2)
    assert found.agreement.merged_pulses == 1
    (note,) = [n for n in found.notes if n.code is Code.PULSES_OF_SEVERAL]
    assert "1 pulse stood for several parts" in note.text


@pytest.fixture(scope="module")
def pours(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pours")


def rendered(name: str, pours: Path) -> Path:
    """Render a ready scene once."""
    made = pours / name
    return made if (made / "truth.json").exists() else ready_pour(name, pours)


SCENES = {
    "beam-agrees": Status.CLEAN,
    "beam-merges": Status.CLEAN,
    "beam-misses": Status.CLEAN,
    "beam-chatters": Status.CLEAN,
    "beam-restarts": Status.CLEAN,
    "beam-overflows": Status.CLEAN,
    "beam-off-centre": Status.DOUBTFUL,
    "washers-through-spot": Status.CLEAN,
}


@pytest.mark.parametrize("name", SCENES)
def test_ready_scenes_beside_their_truth(name: str, pours: Path):
    made = rendered(name, pours)
    truth = json.loads((made / "truth.json").read_text(encoding="utf-8"))
    parts = sum(part["beam_t_ns"] is not None for part in truth["parts"])
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert (found.count, found.status) == (parts, SCENES[name])
    agreement = found.agreement
    scene = (made / "scene.yaml").read_text(encoding="utf-8")
    true_s = float(scene.split("offset_s: ")[1].split()[0])
    # The offset's own uncertainty is that of the beam's height.
    assert abs(agreement.clock_offset_s - true_s) < 3 * agreement.offset_sigma_s
    assert agreement.offset_sigma_s < 0.0013
    assert agreement.arrival_offset_s is None
    seen = sum(len(one.pairing.passages) for one in found.pairings)
    assert seen == len(found.passages)
    assert sum(len(one.pairing.pulses) for one in found.pairings) == found.beam.pulses


def test_a_beam_of_unknown_height_is_compared_by_rhythm(pours: Path, tmp_path: Path):
    made = rendered("beam-agrees", pours)
    outlet = (made / "outlet.yaml").read_text(encoding="utf-8")
    kept = outlet[: outlet.index("beam:")] + outlet[outlet.index("part:") :]
    (tmp_path / "outlet.yaml").write_text(kept, encoding="utf-8")
    found = count(made / "clip.mp4", outlet=tmp_path / "outlet.yaml", beam=made / "beam.csv")
    assert (found.count, found.status) == (15, Status.CLEAN)
    agreement = found.agreement
    assert agreement.clock_offset_s is None
    truth = json.loads((made / "truth.json").read_text(encoding="utf-8"))
    first = truth["parts"][0]
    start_s = 1e-9 * next(p.pulse.start_ns for p in found.pulses)
    between_s = start_s - 1e-9 * first["line_t_ns"]
    assert agreement.arrival_offset_s == pytest.approx(between_s, abs=0.0005)
    assert Code.BEAM_HEIGHT_UNKNOWN in {one.code for one in found.assumed}


def test_a_column_of_sixty_of_which_the_beam_joins_a_third(tmp_path: Path):
    beam = {
        "below_lip_mm": 34.0,
        "width_mm": 2.0,
        "operate_us": 20.0,
        "release_us": 30.0,
        "offset_s": 0.35,
        "drift_ppm": 20.0,
    }
    made = ready_pour("column-60-120", tmp_path, beam=beam)
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert 40 <= found.beam.pulses <= 50
    assert (found.count, found.status) == (60, Status.CLEAN)
    merged = of_kind(found, Pairs.MERGED_PULSE)
    agreed = of_kind(found, Pairs.AGREED)
    assert found.agreement.merged_pulses == len(merged)
    assert len(merged) + len(agreed) == found.beam.pulses
    assert sum(len(passages) for passages in merged + agreed) == 60
    # Every pulse that lasts as long as two parts is named as one of several.
    truth = json.loads((made / "truth.json").read_text(encoding="utf-8"))
    assert sum(part["beam_t_ns"] is not None for part in truth["parts"]) == 60
    assert all(len(passages) > 1 for passages in merged)


@pytest.fixture(scope="module")
def agrees(pours: Path) -> Path:
    return rendered("beam-agrees", pours)


def beside(made: Path, text: str, folder: Path, **more: object) -> Tally:
    log = folder / "other.csv"
    log.write_text(text, encoding="utf-8")
    return count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=log, **more)


@pytest.mark.parametrize("other", ["beam-chatters", "beam-misses", "beam-merges"])
def test_another_pours_log_is_never_clean(agrees: Path, other: str, pours: Path, tmp_path: Path):
    wrong = rendered(other, pours) / "beam.csv"
    found = beside(agrees, wrong.read_text(encoding="utf-8"), tmp_path)
    assert found.status is Status.DOUBTFUL
    assert found.count_low <= 15 <= found.count_high


@pytest.mark.parametrize("end", ["", "# end 1.700000\n"])
def test_an_empty_log_leaves_the_camera_alone(agrees: Path, end: str, tmp_path: Path):
    found = beside(agrees, f"time_s,blocked\n0.350000,0\n{end}", tmp_path)
    assert (found.count, found.status) == (15, Status.DOUBTFUL)
    assert {Code.CAMERA_ALONE, Code.BEAM_STUCK_OPEN} <= codes(found)
    assert found.beam.status is Status.INVALID


def test_a_beam_that_is_stuck_is_never_clean(agrees: Path, tmp_path: Path):
    rows = (agrees / "beam.csv").read_text(encoding="utf-8").splitlines()
    dark, light = rows[:17], rows[:16]
    assert dark[-1].split(",")[1] == "1"
    assert light[-1].split(",")[1] == "0"
    for kept, code in ((dark, Code.BEAM_STUCK_BLOCKED), (light, Code.BEAM_STUCK_OPEN)):
        found = beside(agrees, "\n".join([*kept, "# end 1.700000"]) + "\n", tmp_path)
        assert (found.count, found.status) == (15, Status.DOUBTFUL)
        assert code in codes(found)
    whole = "time_s,blocked\n0.350000,1\n# end 1.700000\n"
    assert beside(agrees, whole, tmp_path).status is Status.DOUBTFUL


def test_a_log_without_its_end_is_a_doubt_only_where_that_matters(agrees: Path, tmp_path: Path):
    rows = (agrees / "beam.csv").read_text(encoding="utf-8").splitlines()
    assert rows[-1].startswith("# end")
    found = beside(agrees, "\n".join(rows[:-1]) + "\n", tmp_path)
    assert (found.count, found.status) == (15, Status.CLEAN)
    assert Code.BEAM_END_UNKNOWN in {note.code for note in found.notes}
    # Cut off in the middle: the camera saw parts after its last edge.
    found = beside(agrees, "\n".join(rows[:20]) + "\n", tmp_path)
    assert (found.count, found.status) == (15, Status.DOUBTFUL)
    assert codes(found) == {Code.BEAM_END_UNKNOWN}


def test_pours_that_the_recording_does_not_show_are_left_out(agrees: Path, tmp_path: Path):
    rows = (agrees / "beam.csv").read_text(encoding="utf-8").splitlines()
    numbered = [row.split(",")[:2] for row in rows[1:-1]]
    kept = ["time_s,blocked", "100.000000,0"]
    # The pours before and after have a rhythm of their own, a tenth slower or faster.
    for shift, pace in ((100.0, 1.1), (200.0, 1.0), (300.0, 0.9)):
        kept += [f"{pace * float(at) + shift:.6f},{level}" for at, level in numbered[1:]]
    found = beside(agrees, "\n".join([*kept, "# end 305.000000"]) + "\n", tmp_path)
    assert found.count == 15
    assert found.agreement.agreed == 15
    assert found.beam.pulses == 15
    assert Code.PULSES_OUTSIDE in {note.code for note in found.notes}


def test_a_beam_that_counts_what_lies_beside_each_other_is_believed_with_doubt(tmp_path: Path):
    # The camera sees pairs of which one hides the other; the beam, across its axis, sees both.
    shot = field_scene(parts=8, pitch_ms=30.0, part=box(32.0, 16.0))
    darks = []
    for at in due_ms(8, 30.0, LEAD_MS, WAY_MS):
        darks += [(at, DARK_MS), (at + 9.0, DARK_MS)]
    found = both(tmp_path, shot, darks)
    assert found.status is Status.DOUBTFUL
    assert found.camera.count == 8
    assert found.count_low <= 8
    assert found.count_high >= 16


def test_a_readout_across_the_fall_that_nobody_stated_is_found_by_the_pour(tmp_path: Path):
    """Lanes 16 mm apart, each line 12 us after the one before: pulses are 0.8 ms off by lane."""
    made = ready_pour(
        "beam-agrees",
        tmp_path,
        lanes={"positions_mm": [-8.0, 8.0], "spread_mm": 0.5},
        camera={"fps": 120.0, "exposure_us": 150.0, "readout": "right", "line_time_us": 12.0},
    )
    outlet = yaml.safe_load((made / "outlet.yaml").read_text(encoding="utf-8"))
    del outlet["camera"]
    (tmp_path / "unstated.yaml").write_text(yaml.safe_dump(outlet), encoding="utf-8")
    found = count(made / "clip.mp4", outlet=tmp_path / "unstated.yaml", beam=made / "beam.csv")
    assert (found.count, found.status) == (15, Status.CLEAN)
    assert Code.BEAM_ASKEW in {note.code for note in found.notes}
    late_ms = [1e-6 * one.pairing.late_ns for one in found.pairings]
    assert max(map(abs, late_ms)) < 0.5
    known = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert (known.count, known.status) == (15, Status.CLEAN)
    assert Code.BEAM_ASKEW not in {note.code for note in known.notes}
