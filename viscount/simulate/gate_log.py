"""The commands to the gate, as a file."""

import math
from pathlib import Path

from viscount.simulate.physics import Blade


def write_gate_log(path: Path, blade: Blade) -> None:
    """Write when the gate was told to shut and to open, on the capture clock.

    It stands open before the first command. What opens it takes no time to arrive.
    """
    rows = ["# clock capture", "# sigma_ms 0", "time_s,command"]
    for stroke in blade.strokes:
        rows.append(f"{stroke.commanded_s:.6f},shut")
        if stroke.open_s < math.inf:
            rows.append(f"{stroke.open_s:.6f},open")
    path.write_text("\n".join([*rows, ""]), encoding="utf-8")
