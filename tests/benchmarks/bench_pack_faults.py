"""How long the coil stays on after each fault of the host, by the simulated board's own coil log.

`viscount pack` runs as processes of its own, over a pseudo-terminal, with its gate open.
"""

import argparse
import json
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from pack_process import BOARD, FAULTS, empty_clip, off_after_ms, packing
from pty_boards import PtyBoard

from viscount.devices.protocol.messages import LEASE_MS

LATE_MS = 5
"""The simulated board lives in a process that is busy otherwise."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    figures: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as top:
        clip = empty_clip(Path(top) / "empty.mp4")
        for fault in FAULTS:
            took = []
            for _ in range(given.times):
                with (
                    tempfile.TemporaryDirectory() as folder,
                    PtyBoard(BOARD) as board,
                    packing(clip, Path(folder), board) as process,
                ):
                    took.append(off_after_ms(fault, process, board))
            figures[fault.__name__] = round(max(took), 1)
    if given.json:
        told = {"times": given.times, "lease_ms": LEASE_MS, "coil_on_ms_at_most": figures}
        print(json.dumps(told))
    else:
        for name, most in figures.items():
            print(f"{name}: coil off {most} ms after, at most")
    late = [name for name, most in figures.items() if most > LEASE_MS + LATE_MS]
    if late:
        sys.exit(f"later than the lease of {LEASE_MS} ms: {', '.join(late)}")


if __name__ == "__main__":
    main()
