"""A lamp in view that the beam's board switches: clip, outlet file and log in, one tally out."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from beam_logs import READY, ready_pour
from commands import call

from viscount.codes import Code
from viscount.offline import compare, count
from viscount.simulate.scene import load_scene
from viscount.tally import Tally
from viscount.values import Status

OFFSET_S = 0.35


def without_lamp(made: Path, folder: Path, lamp: list[int] | None = None) -> Path:
    """Return the pour's outlet file without its lamp, or with another one."""
    keys = yaml.safe_load((made / "outlet.yaml").read_text(encoding="utf-8"))
    del keys["view"]["lamp_px"]
    if lamp is not None:
        keys["view"]["lamp_px"] = lamp
    path = folder / "other.yaml"
    path.write_text(yaml.safe_dump(keys), encoding="utf-8")
    return path


def off_s(found: Tally) -> float:
    return abs(found.agreement.clock_offset_s - OFFSET_S)


@pytest.fixture(scope="module")
def lit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return ready_pour("lamp-in-view", tmp_path_factory.mktemp("lamp"))


def test_the_lamp_tells_the_clocks_apart_from_the_height(lit: Path) -> None:
    found = count(lit / "clip.mp4", outlet=lit / "outlet.yaml", beam=lit / "beam.csv")
    plain = compare(replace(found, lamp=None), lit / "beam.csv")
    assert (found.count, found.camera.count, found.status) == (15, 15, Status.CLEAN)
    assert (plain.count, plain.lamp) == (15, None)
    # Once on and once off for each of fifteen pulses, each about two frames long.
    assert [event.on for event in found.lamp] == [True, False] * 15
    assert found.agreement.offset_sigma_s < 0.6 * plain.agreement.offset_sigma_s
    assert off_s(found) < 3 * found.agreement.offset_sigma_s


def test_a_stored_count_keeps_what_the_lamp_did(lit: Path) -> None:
    clip, log, outlet = lit / "clip.mp4", lit / "beam.csv", lit / "outlet.yaml"
    both = call("count", clip, "--outlet", outlet, "--beam", log, "--json")
    alone = call("count", clip, "--outlet", outlet, "--json").out
    (lit / "alone.json").write_text(alone, encoding="utf-8")
    again = call("compare", lit / "alone.json", log, "--json")
    one, other = json.loads(both.out), json.loads(again.out)
    assert one["lamp"] == other["lamp"]
    assert len(one["lamp"]) == 30
    for key in ("clock_offset_s", "offset_sigma_s"):
        assert one["agreement"][key] == pytest.approx(other["agreement"][key], abs=1e-7)


def test_a_regular_stream_in_mid_log_is_settled_by_the_lamp(tmp_path: Path) -> None:
    """Every 26 ms, the log begins and ends in the stream, the beam misses 15 %: by their times
    alone pulses could be those of many parts; the lamp is dark for those that it missed."""
    beam = load_scene(READY / "lamp-in-view.yaml").model_dump()["beam"]
    beam["board"]["missed"] = 0.15
    release = {"kind": "escapement", "count": 40, "interval_ms": 26.0, "jitter_ms": 0.0}
    made = ready_pour("lamp-in-view", tmp_path, release=release, beam=beam)
    rows = (made / "beam.csv").read_text(encoding="utf-8").splitlines()[1:-1]
    edges = [row.split(",")[:2] for row in rows]
    kept = [edge for edge in edges if 1.23 < float(edge[0]) < 1.75]
    kept = kept[kept[0][1] == "0" : len(kept) - (kept[-1][1] == "1")]
    first, last = float(kept[0][0]), float(kept[-1][0])
    text = [f"{first - 0.003:.6f},0", *map(",".join, kept), f"# end {last + 0.002:.6f}"]
    log = made / "cut.csv"
    log.write_text("\n".join(["time_s,blocked", *text]) + "\n", encoding="utf-8")
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=log)
    plain = compare(replace(found, lamp=None), log)
    assert Code.CLOCKS_AMBIGUOUS in {reason.code for reason in plain.reasons}
    assert (found.count, found.status) == (40, Status.CLEAN)
    assert off_s(found) < 3 * found.agreement.offset_sigma_s
    assert found.agreement.offset_sigma_s < 0.0006


def test_a_lamp_for_each_pour_is_taken_for_that(tmp_path: Path) -> None:
    beam = load_scene(READY / "lamp-in-view.yaml").model_dump()["beam"]
    beam["lamp"]["shows"] = "pours"
    made = ready_pour("lamp-in-view", tmp_path, beam=beam)
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert [event.on for event in found.lamp] == [True, False]
    assert (found.count, found.status) == (15, Status.CLEAN)
    assert off_s(found) < 3 * found.agreement.offset_sigma_s


def test_a_lamp_beside_the_stream_is_no_part(tmp_path: Path) -> None:
    """At the line itself, where something that comes and goes would be counted."""
    beam = load_scene(READY / "lamp-in-view.yaml").model_dump()["beam"]
    beam["lamp"] |= {"left_px": 118, "top_px": 190, "width_px": 30, "height_px": 60}
    made = ready_pour("lamp-in-view", tmp_path, beam=beam)
    found = count(made / "clip.mp4", outlet=made / "outlet.yaml", beam=made / "beam.csv")
    assert (found.count, found.camera.count, found.status) == (15, 15, Status.CLEAN)
    assert found.camera.status is Status.CLEAN
    seen = count(made / "clip.mp4", outlet=without_lamp(made, tmp_path))
    assert (seen.camera.count, seen.status) != (15, Status.CLEAN)


def test_a_box_without_a_lamp_is_said(lit: Path, tmp_path: Path) -> None:
    dark = without_lamp(lit, tmp_path, [2, 300, 12, 310])
    found = count(lit / "clip.mp4", outlet=dark, beam=lit / "beam.csv")
    assert (found.count, found.status, found.lamp) == (15, Status.CLEAN, ())
    assert Code.LAMP_NOT_SEEN in {note.code for note in found.notes}


def test_a_lamp_that_goes_with_something_else_is_a_doubt(lit: Path, tmp_path: Path) -> None:
    """The log of the same rhythm, but every other pulse of it is another part's."""
    rows = (lit / "beam.csv").read_text(encoding="utf-8").splitlines()
    head, edges, end = rows[0], [row.split(",") for row in rows[1:-1]], rows[-1]
    kept = [f"{float(edges[0][0]):.6f},0"]
    for k in range(1, len(edges), 2):
        if k > 16:
            continue
        kept += [f"{float(at):.6f},{level}" for at, level, *_ in edges[k : k + 2]]
    log = tmp_path / "half.csv"
    log.write_text("\n".join(["time_s,blocked", *kept, end]) + "\n", encoding="utf-8")
    assert head.startswith("time_s,blocked")
    found = count(lit / "clip.mp4", outlet=lit / "outlet.yaml", beam=log)
    assert found.status is Status.DOUBTFUL
    assert Code.LAMP_DISAGREES in {reason.code for reason in found.reasons}
