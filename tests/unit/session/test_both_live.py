"""Camera and beam live: the tally of both, and the same again from what was recorded."""

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from counting import outlet
from live_cameras import ScriptedCamera, engine, opening
from pty_boards import PtyBoard, PtyPorts
from scenes import Shot, field_scene

from viscount.clock import SystemClock
from viscount.offline import count
from viscount.session.messages import Snapshot
from viscount.session.plan import LivePlan
from viscount.session.watchdog import Limits
from viscount.simulate.scene import Beam
from viscount.tally import Tally
from viscount.testing.board import BoardSettings
from viscount.values import Frame, Pairs, Status

FPS = 120
OUTLET = outlet(
    view={"line_px": 80, "scale_px_per_mm": 4.0, "lip_px": -16.0},
    motion={"kind": "belt", "speed_mm_s": 375.0},
    beam={"below_lip_mm": 34.0, "width_mm": 1.0},
    part={"name": "plate", "along_fall_mm": 8.0},
)


@pytest.fixture(scope="module")
def shot() -> Shot:
    gaps = [0, 52, 110, 170, 215, 280, 330, 401, 450, 520]
    return field_scene(
        times_ms=gaps,
        speed_px_s=1500.0,
        fps=FPS,
        lead_in_frames=40,
        beam=Beam(below_lip_mm=34.0, width_mm=1.0),
    )


class WithBoard(ScriptedCamera):
    """Lets the board's parts fall as its own frames begin."""

    def __init__(self, shot: Shot, board: PtyBoard, *, missed: frozenset[int]) -> None:
        super().__init__([*shot.frames, "over"], recorded=True, pace_s=1.0 / FPS)
        self._shot, self._board, self._missed = shot, board, missed

    def frames(self) -> Iterator[Frame]:
        begun_ns = time.monotonic_ns() + round(1e9 / FPS)
        with self._board.lock:
            for edge in self._shot.edges:
                if edge.seq and (edge.seq - 1) // 2 not in self._missed:
                    self._board.board.beam(begun_ns + edge.t_ns, edge.blocked)
        return super().frames()


def run(shot: Shot, folder: Path, missed: frozenset[int] = frozenset()) -> tuple[Tally, list]:
    told: list = []
    plan = LivePlan(
        source="scripted",
        outlet=OUTLET,
        clip=folder / "clip.mp4",
        beam_log=folder / "beam.csv",
        lossless=True,
    )
    with PtyBoard(BoardSettings(clock_us=5_000_000, drift_ppm=30)) as board:
        one = engine(
            opening(WithBoard(shot, board, missed=missed)),
            plan,
            clock=SystemClock(),
            limits=Limits(),
            ports=PtyPorts(board),
            tell=told.append,
        )
        ended = one.run()
    assert ended.beam_log == str(folder / "beam.csv")
    return ended.tally, told


def test_both_count_and_so_does_what_was_recorded(shot: Shot, tmp_path: Path) -> None:
    tally, told = run(shot, tmp_path)
    assert (tally.count, tally.status) == (10, Status.CLEAN), tally.reasons
    assert tally.beam is not None
    assert tally.beam.pulses == 10
    last = [one for one in told if isinstance(one, Snapshot)][-1]
    assert last.beam is not None
    assert (last.beam.pulses, last.beam.lost) == (10, 0)
    again = count(tmp_path / "clip.mp4", beam=tmp_path / "beam.csv", outlet=OUTLET)
    assert (again.count, again.status) == (tally.count, tally.status)
    assert again.agreement is not None
    assert tally.agreement is not None
    assert replace(again.beam, log=None) == replace(tally.beam, log=None)  # type: ignore[type-var]
    assert again.beam == replace(tally.beam, log=again.beam.log)  # type: ignore[union-attr]
    assert tally.beam.log is not None
    assert again.beam.log.sha256 == tally.beam.log.sha256  # type: ignore[union-attr]
    kinds = [[p.pairing.kind for p in one.pairings] for one in (tally, again)]
    assert kinds[0] == kinds[1] == [Pairs.AGREED] * 10


def test_what_the_beam_misses_is_told_as_in_a_recording(shot: Shot, tmp_path: Path) -> None:
    tally, _ = run(shot, tmp_path, missed=frozenset({4}))
    again = count(tmp_path / "clip.mp4", beam=tmp_path / "beam.csv", outlet=OUTLET)
    assert tally.count == again.count == 10
    assert tally.status == again.status
    assert [r.code for r in tally.reasons] == [r.code for r in again.reasons]
    assert [p.pairing.kind for p in tally.pairings].count(Pairs.CAMERA_ONLY) == 1
