"""The beam's log, as a file."""

from pathlib import Path

from viscount.simulate.barrier.board import Watched
from viscount.simulate.barrier.edge import boot_at, device_s
from viscount.simulate.scene import Beam


def write_beam_log(path: Path, beam: Beam, watched: Watched, until_s: float) -> None:
    """Write edges as a beam log, whole from the first frame's time until `until_s`.

    Its first row is the sensor's state when logging began; its last remark, on the board's clock
    as it then runs, says that it is whole.
    """
    first = f"{device_s(beam, 0.0):.6f},{int(watched.blocked_at_first)},0,{boot_at(beam, 0.0)}"
    rows = [f"{e.device_t_ns / 1e9:.6f},{int(e.blocked)},{e.seq},{e.boot}" for e in watched.edges]
    end = f"# end {device_s(beam, until_s):.6f}"
    path.write_text("\n".join(["time_s,blocked,seq,boot", first, *rows, end, ""]), encoding="utf-8")
