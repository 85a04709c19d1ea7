"""Clips of a simulated gate that moves without parts, and what its blade truly did."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from viscount.simulate.barrier.edge import device_s
from viscount.simulate.gate_log import write_gate_log
from viscount.simulate.geometry import upright
from viscount.simulate.physics.blade import Blade
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import (
    Ball,
    Beam,
    Camera,
    Cycle,
    Escapement,
    Gate,
    LampInView,
    Scene,
    View,
)

LAMP = LampInView(left_px=2, top_px=2, width_px=6, height_px=6)
LAMP_BOX = (1, 1, 9, 9)
UNEVEN = tuple(
    Cycle(open_ms=open_ms, shut_ms=open_ms + 60.37)
    for open_ms in (250.0, 370.12, 507.75, 620.41, 745.6, 851.23)
)
"""Commands at even times could be laid beside a log in several ways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedGate:
    """A clip with its files, the box of the stream, and the blade's true strokes."""

    clip: Path
    outlet: Path
    log: Path
    beam: Path | None
    box: tuple[int, int, int, int]
    blade: Blade


def filmed_gate(folder: Path, *, fps: float = 1000.0, seed: int = 1, **changes) -> FilmedGate:  # type: ignore[no-untyped-def]
    """Film six strokes each way; one part falls beforehand, and is gone."""
    gate = Gate(
        **{
            "below_lip_mm": 20.0, "reach_ms": 9.0, "shut_takes_ms": 16.0, "open_takes_ms": 7.0,
            "spread_ms": 0.8, "thickness_mm": 2.0,
            "cycles": tuple(
                Cycle(open_ms=120.0 * k + 250.0, shut_ms=120.0 * k + 310.0) for k in range(6)
            ),
            **changes,
        }
    )  # fmt: skip
    scene = Scene(
        seed=seed,
        parts=(Ball(diameter_mm=10.0),),
        release=Escapement(count=1, interval_ms=10.0),
        gate=gate,
        lip_speed_mm_s=400.0,
        lead_in_s=0.05,
        duration_s=1.1,
        view=View(width_px=64, height_px=48, scale_px_per_mm=4.0, lip_px=-50.0, line_px=20.0),
        camera=Camera(fps=fps, exposure_us=100.0, noise=2.0, blur_px=0.5),
    )
    return _written(scene, folder)


BEAM = Beam(below_lip_mm=20.0, width_mm=1.0, offset_s=1234.5, drift_ppm=80.0)
ABOVE_BLADE = (0, 0, 64, 80)
"""Where parts of `filmed_beside_a_beam` are in view, and its blade is not."""


def filmed_beside_a_beam(folder: Path) -> FilmedGate:
    """Film seven parts at the beam, and then six strokes each way without parts."""
    gate = Gate(
        below_lip_mm=36.0, reach_ms=9.0, shut_takes_ms=16.0, open_takes_ms=7.0, spread_ms=0.8,
        thickness_mm=2.0, cycles=UNEVEN,
    )  # fmt: skip
    scene = Scene(
        seed=1,
        parts=(Ball(diameter_mm=4.0),),
        release=Escapement(count=7, interval_ms=25.0, jitter_ms=4.0),
        gate=gate,
        beam=BEAM,
        lip_speed_mm_s=400.0,
        lead_in_s=0.05,
        duration_s=1.1,
        view=View(width_px=64, height_px=112, scale_px_per_mm=4.0, lip_px=-50.0, line_px=20.0),
        camera=Camera(fps=1000.0, exposure_us=100.0, noise=2.0, blur_px=0.5),
    )
    return _written(scene, folder)


def _written(scene: Scene, folder: Path) -> FilmedGate:
    pour = simulate(scene)
    written = write_pour(scene, folder)
    assert pour.blade is not None
    assert scene.gate is not None
    assert written.gate is not None
    write_gate_log(written.gate, pour.blade)
    up = upright(scene)
    row, left = up.place(scene.gate.below_lip_mm, pour.blade.left_mm)
    _, right = up.place(scene.gate.below_lip_mm, pour.blade.right_mm)
    box = (round(float(left)), round(float(row)), round(float(right)), round(float(row)) + 8)
    return FilmedGate(
        clip=written.clip,
        outlet=written.outlet,
        log=written.gate,
        beam=written.beam,
        box=box,
        blade=pour.blade,
    )


def board_log(filmed: FilmedGate, path: Path, *, offset_s: float, drift_ppm: float) -> Path:
    """Write the gate's log anew, on the clock of a board that is off and runs fast."""
    return _log_on(filmed, path, lambda time_s: offset_s + time_s * (1 + 1e-6 * drift_ppm))


def log_of_the_beams_board(filmed: FilmedGate, path: Path) -> Path:
    """Write the gate's log anew, on the clock of the board that watches the beam."""
    return _log_on(filmed, path, lambda time_s: device_s(BEAM, time_s))


def _log_on(filmed: FilmedGate, path: Path, clock: Callable[[float], float]) -> Path:
    rows = ["# clock board", "time_s,command"]
    for line in filmed.log.read_text(encoding="utf-8").splitlines():
        time, _, command = line.partition(",")
        if command in ("shut", "open"):
            rows.append(f"{clock(float(time)):.6f},{command}")
    path.write_text("\n".join([*rows, ""]), encoding="utf-8")
    return path
