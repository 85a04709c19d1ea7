"""Reach and shut from a clip of the blade, against what the simulated blade did."""

from pathlib import Path

import numpy as np
import pytest
from commands import call
from filmed_gates import LAMP, LAMP_BOX, UNEVEN, FilmedGate, board_log, filmed_gate

from viscount.devices.triggers.strokes import read_strokes
from viscount.offline.filming import filmed_strokes

MS = 1e-3


@pytest.fixture(scope="module", params=[0.0, 20.0], ids=["plain", "rebounds"])
def filmed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> FilmedGate:
    return filmed_gate(tmp_path_factory.mktemp("gate"), rebound_percent=request.param)


def test_each_stroke_is_known_to_its_uncertainty(filmed: FilmedGate) -> None:
    found = filmed_strokes(filmed.clip, gate_log=filmed.log, box=filmed.box, outlet=filmed.outlet)
    shut = [one for one in found.strokes if one.shuts]
    opened = [one for one in found.strokes if not one.shuts]
    assert (len(shut), len(opened)) == (6, 5)
    assert found.rate_hz == pytest.approx(1000, rel=1e-3)
    off = []
    for one, true in zip(shut, filmed.blade.strokes, strict=True):
        assert one.begins_s is not None
        assert one.done_s is not None
        begins, done = true.reach_s - true.commanded_s, true.shut_s - true.commanded_s
        off.append((one.begins_s - begins) / one.sigma_begins_s)
        off.append((one.done_s - done) / one.sigma_done_s)
    for one, true in zip(opened, filmed.blade.strokes, strict=False):
        assert one.begins_s == pytest.approx(0.0, abs=0.3 * MS)
        assert one.done_s is not None
        off.append((one.done_s - (true.clear_s - true.open_s)) / one.sigma_done_s)
    assert np.abs(off).max() < 2.5


def test_the_command_writes_a_file_of_strokes(filmed: FilmedGate, tmp_path: Path) -> None:
    out = tmp_path / "strokes.csv"
    words = ["strokes", filmed.clip, "--gate-log", filmed.log, "--outlet", filmed.outlet]
    answer = call(*words, "--blade-px", *filmed.box, "--out", out)
    assert answer.status == 0, answer.err
    assert "6 strokes" in answer.out
    read = read_strokes(out)
    assert (len(read.shutting), len(read.opening or ())) == (6, 5)
    assert read.sigma_s == pytest.approx(0.29 * MS, abs=0.02 * MS)
    true = [s.reach_s - s.commanded_s for s in filmed.blade.strokes]
    assert read.shutting.begins_s == pytest.approx(true, abs=0.4 * MS)


def test_a_stream_that_is_narrower_than_the_box(filmed: FilmedGate, tmp_path: Path) -> None:
    """From a quarter of the box on, to three quarters of it."""
    x0, _, x1, _ = filmed.box
    sides = x0 - 0.5 + 0.25 * (x1 - x0), x0 - 0.5 + 0.75 * (x1 - x0)
    out = tmp_path / "strokes.csv"
    words = ["strokes", filmed.clip, "--gate-log", filmed.log, "--outlet", filmed.outlet]
    answer = call(*words, "--blade-px", *filmed.box, "--stream-px", *sides, "--out", out)
    assert answer.status == 0, answer.err
    read = read_strokes(out)
    blade = filmed.blade.strokes
    for found, true in (
        (read.shutting.first_motion_s, [s.reach_s for s in blade]),
        (read.shutting.begins_s, [s.meets(0.25) for s in blade]),
        (read.shutting.done_s, [s.covers(0.75) for s in blade]),
    ):
        after = np.array(true) - [s.commanded_s for s in blade]
        assert found == pytest.approx(after, abs=0.6 * MS)
    assert read.opening is not None
    opens = [s.uncovers(0.25) - s.open_s for s in blade[:-1]]
    assert read.opening.done_s == pytest.approx(opens, abs=0.6 * MS)
    twisted = call(*words, "--blade-px", *filmed.box, "--stream-px", 0, 50, "--out", out)
    assert twisted.status == 2
    assert "inside the box" in twisted.err


def test_what_cannot_be_measured_is_refused(filmed: FilmedGate, tmp_path: Path) -> None:
    out = tmp_path / "strokes.csv"
    words = ["strokes", filmed.clip, "--outlet", filmed.outlet, "--out", out]
    tight = call(*words, "--gate-log", filmed.log, "--blade-px", *filmed.box, "--within-ms", 0.1)
    assert tight.status == 12
    assert "known to 0.29 ms only" in tight.err
    assert "2887 frames a second" in " ".join(tight.err.split())
    away = call(*words, "--gate-log", filmed.log, "--blade-px", 0, 0, 8, 8)
    assert away.status == 2
    assert "looks the same" in away.err
    outside = call(*words, "--gate-log", filmed.log, "--blade-px", 10, 10, 300, 20)
    assert outside.status == 2
    assert "300" in outside.err
    board = tmp_path / "board.csv"
    board.write_text(
        filmed.log.read_text(encoding="utf-8").replace("capture", "board"), encoding="utf-8"
    )
    on_board = call(*words, "--gate-log", board, "--blade-px", *filmed.box)
    assert on_board.status == 2
    assert "board's clock" in on_board.err
    assert "--lamp-px" in on_board.err
    assert call(*words, "--blade-px", *filmed.box).status == 2
    late = tmp_path / "late.csv"
    late.write_text("# clock capture\ntime_s,command\n900,shut\n", encoding="utf-8")
    assert call(*words, "--gate-log", late, "--blade-px", *filmed.box).status == 2
    assert not out.exists()


@pytest.fixture(scope="module")
def lit(tmp_path_factory: pytest.TempPathFactory) -> FilmedGate:
    """A gate whose coil lights a lamp in view."""
    return filmed_gate(tmp_path_factory.mktemp("lit"), lamp=LAMP, cycles=UNEVEN)


@pytest.mark.parametrize("log", ["board", "capture", "none"])
def test_a_lamp_wired_to_the_coil_settles_the_commands(
    lit: FilmedGate, log: str, tmp_path: Path
) -> None:
    words = ["strokes", lit.clip, "--outlet", lit.outlet, "--blade-px", *lit.box]
    words += ["--lamp-px", *LAMP_BOX, "--out", out := tmp_path / "strokes.csv"]
    if log == "board":
        path = board_log(lit, tmp_path / "board.csv", offset_s=4711.0, drift_ppm=120.0)
        words += ["--gate-log", path]
    elif log == "capture":
        words += ["--gate-log", lit.log]
    answer = call(*words)
    assert answer.status == 0, answer.err
    assert "lamp" in answer.out
    read = read_strokes(out)
    true = lit.blade.strokes
    reach, shut = (
        [s.reach_s - s.commanded_s for s in true],
        [s.shut_s - s.commanded_s for s in true],
    )
    worst = 3.0 * read.sigma_s
    assert len(read.shutting) == 6
    assert read.shutting.begins_s == pytest.approx(reach, abs=worst)
    assert read.shutting.done_s == pytest.approx(shut, abs=worst)
    assert read.opening is not None
    opens = [s.clear_s - s.open_s for s in true[:-1]]
    assert read.opening.done_s == pytest.approx(opens, abs=worst)
    # All changes together put the board's commands on the film better than each its own.
    assert read.sigma_s < (0.33e-3 if log == "board" else 0.45e-3)


def test_a_lamp_that_is_none_is_refused(lit: FilmedGate, tmp_path: Path) -> None:
    out = tmp_path / "strokes.csv"
    words = ["strokes", lit.clip, "--outlet", lit.outlet, "--blade-px", *lit.box, "--out", out]
    board = board_log(lit, tmp_path / "board.csv", offset_s=3.0, drift_ppm=0.0)
    # All that ever changes in the first box is the part that falls past it.
    for box, said in (((40, 2, 48, 8), "2 changes of the lamp"), ((60, 2, 70, 8), "64 x 48")):
        answer = call(*words, "--gate-log", board, "--lamp-px", *box)
        assert answer.status == 2
        assert said in " ".join(answer.err.split())
    even = tmp_path / "other.csv"
    even.write_text(
        "# clock board\ntime_s,command\n1.0,shut\n1.2,open\n1.5,shut\n1.9,open\n",
        encoding="utf-8",
    )
    other = call(*words, "--gate-log", even, "--lamp-px", *LAMP_BOX)
    assert other.status == 2
    assert "do not go with" in " ".join(other.err.split())
    assert not out.exists()
