"""What the board makes of the sensor's edges."""

from pathlib import Path

import numpy as np
import pytest

from viscount.simulate.barrier import BeamEdge, Watched, write_beam_log
from viscount.simulate.pour import simulate
from viscount.simulate.scene import (
    Ball,
    Beam,
    Belt,
    Board,
    Box,
    Camera,
    Escapement,
    Lanes,
    Scene,
)

BEAM = Beam(below_lip_mm=20.0, width_mm=1.0, offset_s=0.5)
PARTS = 40


def made(board: Board, **beam: object) -> Scene:
    return Scene(
        parts=(Box(along_mm=8.0, across_mm=4.0),),
        release=Escapement(count=PARTS, interval_ms=20.0),
        motion=Belt(speed_mm_s=1500.0),
        lead_in_s=0.0,
        beam=BEAM.model_copy(update={"board": board, **beam}),
    )


def pour(board: Board, **beam: object) -> tuple[tuple[BeamEdge, ...], object]:
    watched = simulate(made(board, **beam)).watched
    return watched.edges, watched.board


def log_rows(scene: Scene, path: Path) -> tuple[list[list[str]], float]:
    """Write the scene's log; return its rows and the time of its end mark."""
    pour = simulate(scene)
    assert scene.beam is not None
    write_beam_log(path, scene.beam, pour.watched, pour.end_s)
    head, *rows, end = path.read_text(encoding="utf-8").splitlines()
    assert head == "time_s,blocked,seq,boot"
    assert end.startswith("# end ")
    return [row.split(",") for row in rows], float(end.removeprefix("# end "))


def test_a_plain_board_reports_every_edge() -> None:
    edges, truth = pour(Board())
    assert [e.seq for e in edges] == list(range(1, 2 * PARTS + 1))
    assert [e.blocked for e in edges] == [True, False] * PARTS
    assert (truth.pulses, truth.missed_pulses, truth.lost_edges) == (PARTS, 0, 0)
    assert {e.device_t_ns - e.t_ns for e in edges} <= {500_000_000, 499_999_999, 500_000_001}


def test_jitter_has_the_stated_sigma() -> None:
    plain, _ = pour(Board())
    moved, _ = pour(Board(jitter_us=60.0))
    off = np.array([m.t_ns - p.t_ns for m, p in zip(moved, plain, strict=True)]) * 1e-3
    assert off.std() == pytest.approx(60.0, rel=0.3)
    assert all(np.diff([e.t_ns for e in moved]) >= 0)


def test_missed_pulses_lack_both_edges() -> None:
    edges, truth = pour(Board(missed=0.3))
    assert 4 <= truth.missed_pulses <= 22
    assert len(edges) == 2 * (PARTS - truth.missed_pulses)
    assert [e.blocked for e in edges] == [True, False] * (len(edges) // 2)
    assert [e.seq for e in edges] == list(range(1, len(edges) + 1))


def test_chatter_goes_back_and_forth_once() -> None:
    edges, truth = pour(Board(bounces=0.25, bounce_us=100.0))
    assert truth.bounces > 5
    assert len(edges) == 2 * PARTS + 2 * truth.bounces
    assert [e.blocked for e in edges] == [True, False] * (len(edges) // 2)
    assert np.sum(np.diff([e.t_ns for e in edges]) < 100_000) >= truth.bounces


def test_a_queue_that_overflows_keeps_the_newest() -> None:
    """20 parts, 40 edges in a stall, a queue of 16: the first 24 are lost, as numbers show."""
    board = Board(queue=16, stalls_ms=((0.0, 413.0),))
    edges, truth = pour(board)
    assert truth.lost_edges == edges[0].seq - 1
    in_stall = [e for e in edges if e.t_ns < 413e6]
    assert len(in_stall) == 16
    assert [e.seq for e in edges] == list(range(edges[0].seq, 2 * PARTS + 1))


def test_a_restart_begins_clock_and_numbers_again() -> None:
    edges, truth = pour(Board(restarts_ms=(400.0,)), drift_ppm=100.0)
    later = [e for e in edges if e.boot == 1]
    assert truth.restarts == 1
    assert [e.seq for e in later] == list(range(1, len(later) + 1))
    assert all(e.t_ns > 400e6 for e in later)
    for edge in later:
        assert edge.device_t_ns == pytest.approx((edge.t_ns - 400e6) * (1 + 1e-4), abs=1)


def test_a_clock_of_32_bits_wraps() -> None:
    """At 2**32 us, that is 4294.967296 s."""
    edges, _ = pour(Board(wraps=True), offset_s=4294.8)
    device = np.array([e.device_t_ns for e in edges]) * 1e-9
    (falls,) = np.flatnonzero(np.diff(device) < 0)
    assert device[falls] - device[falls + 1] == pytest.approx(4294.967296, abs=0.05)
    assert np.all(device < 4294.967296)


def test_a_restarted_clock_wraps_too() -> None:
    board = Board(wraps=True, restarts_ms=(100.0 - 2**32 / 1e3,))
    device = np.array([e.device_t_ns for e in pour(board)[0]]) * 1e-9
    (falls,) = np.flatnonzero(np.diff(device) < 0)
    assert device[falls] > 4294.9
    assert device[falls + 1] < 0.1


def test_a_log_of_a_queue_that_overflowed_tells_how_it_began(tmp_path: Path) -> None:
    """The first edge of a pulse is lost, so that the first that is left says clear."""
    board = Board(queue=1, stalls_ms=((0.0, 24.0),))
    rows, _ = log_rows(made(board), tmp_path / "beam.csv")
    assert rows[0] == ["0.500000", "0", "0", "0"]
    assert rows[1][1:] == ["0", "2", "0"]


@pytest.mark.parametrize("end_ms", [36.02, 36.1, 36.3])
def test_no_edge_comes_after_the_end_of_the_log(tmp_path: Path, end_ms: float) -> None:
    """The clip ends just after an edge that jitters and chatters (at 36 ms)."""
    board = Board(jitter_us=300.0, bounces=1.0, bounce_us=400.0)
    camera = Camera(fps=1e3 / end_ms, exposure_us=100.0)
    for seed in range(8):
        update = {"seed": seed, "camera": camera, "duration_s": end_ms * 1e-3 * 1.5}
        rows, end_s = log_rows(made(board).model_copy(update=update), tmp_path / "beam.csv")
        times = [float(row[0]) for row in rows]
        assert times == sorted(times)
        assert times[0] == 0.5
        assert times[-1] <= end_s == pytest.approx(0.5 + end_ms * 1e-3, abs=1e-6)


def test_the_log_tells_boots_and_its_own_end(tmp_path: Path) -> None:
    edges, _ = pour(Board(restarts_ms=(400.0,)))
    beam = BEAM.model_copy(update={"board": Board(restarts_ms=(400.0,))})
    write_beam_log(tmp_path / "beam.csv", beam, Watched(edges=edges), 1.0)
    lines = (tmp_path / "beam.csv").read_text(encoding="utf-8").splitlines()
    assert lines[:2] == ["time_s,blocked,seq,boot", "0.500000,0,0,0"]
    assert lines[-1] == "# end 0.600000"
    assert {line.split(",")[3] for line in lines[2:-1]} == {"0", "1"}


def test_a_ray_beside_the_middle_sees_the_chord_of_a_ball() -> None:
    """At distance d from its middle a ball of radius r shows 2 sqrt(r² - d²)."""
    for depth_mm in (0.0, 1.0, 2.5):
        scene = Scene(
            parts=(Ball(diameter_mm=6.0),),
            release=Escapement(count=1, interval_ms=9.0),
            motion=Belt(speed_mm_s=1500.0),
            lead_in_s=0.0,
            beam=Beam(
                below_lip_mm=20.0, width_mm=0.2, sees="ray", breadth_mm=0.05, depth_mm=depth_mm
            ),
        )
        start, end = simulate(scene).edges
        chord = 2 * np.sqrt(9.0 - depth_mm**2)
        assert (end.t_ns - start.t_ns) * 1e-9 * 1500.0 == pytest.approx(chord, abs=0.05)


def test_a_ray_past_a_part_sees_nothing() -> None:
    scene = Scene(
        parts=(Ball(diameter_mm=6.0),),
        release=Escapement(count=3, interval_ms=30.0),
        motion=Belt(speed_mm_s=1500.0),
        lanes=Lanes(positions_mm=(0.0,)),
        beam=Beam(below_lip_mm=20.0, width_mm=0.5, sees="ray", breadth_mm=0.5, depth_mm=4.0),
    )
    assert simulate(scene).edges == ()
