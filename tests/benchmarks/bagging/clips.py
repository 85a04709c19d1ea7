"""A few bags end to end: drawn, encoded, counted with `viscount count`, and read back."""

import tempfile
from pathlib import Path
from typing import Any

from viscount.offline import count
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import Cycle, Escapement, Gate, Scene, load_scene

SCENES = Path(__file__).parents[3] / "fixtures" / "scenes"
STROKES = """direction,begins_ms,done_ms
shut,8.0,14.0\nshut,8.4,14.5\nshut,7.5,13.6\nshut,8.6,13.5\nshut,7.4,14.4\nshut,8.1,14.1
open,0,8
"""


def scenes(many: int) -> list[Scene]:
    """Return pours that a gate below the view cuts after six of eight, then lets go of the rest.

    The view ends above the blade, so that no part comes to rest in it.
    """
    base = load_scene(SCENES / "gate-held.yaml")
    made = []
    for seed in range(many):
        interval = 40.0 + 10.0 * (seed % 4)
        gate = Gate(
            below_lip_mm=150.0, reach_ms=8.0, shut_takes_ms=14.0, open_takes_ms=8.0,
            spread_ms=0.5, rebound_percent=15.0,
            cycles=(
                Cycle(open_ms=-100.0, shut_ms=5.45 * interval + 125.0),
                Cycle(open_ms=8 * interval + 700.0, shut_ms=8 * interval + 1300.0),
            ),
        )  # fmt: skip
        changes: dict[str, Any] = {
            "seed": seed + 1,
            "gate": gate,
            "release": Escapement(count=8, interval_ms=interval, jitter_ms=1.0),
            "pours_ms": (0.0,),
            "view": base.view.model_copy(update={"line_px": 200.0}),
            "duration_s": 8e-3 * interval + 2.2,
        }
        made.append(base.model_copy(update=changes))
    return made


def counted(scene: Scene) -> list[dict[str, Any]]:
    """Return every bag of a scene: what it truly got beside what was made of it."""
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        written = write_pour(scene, room)
        (room / "strokes.csv").write_text(STROKES, encoding="utf-8")
        tally = count(
            written.clip,
            outlet=written.outlet,
            gate_log=written.gate,
            strokes=room / "strokes.csv",
        )
    truth = simulate(scene).truth.bags
    return [
        {
            "content": true.content,
            "inferred": found.content,
            "low": found.low,
            "high": found.high,
            "clean": found.status.value == "clean",
            "pinched": true.pinched_after,
            "why": [reason.code.value for reason in found.reasons],
            "count_why": [reason.code.value for reason in tally.reasons],
        }
        for true, found in zip(truth, tally.bags, strict=True)
    ]
