"""How fast a beam's log is read and made pulses of, and that memory does not grow with it.

    python tests/benchmarks/bench_beam.py [--json] [--pulses 1000000] [--runs 3]

A log is written on the fly: screws of 8 mm every 25 ms, two edges each, one edge of five
chatters, with numbers and boots. The log reader and the pulse machine take it as they stand, one
edge at a time; the table has the best of the runs, by this process's own time. Memory is traced
in runs of their own, for a tenth of the log and for all of it.
"""

import argparse
import json
import tempfile
import time
import tracemalloc
from collections.abc import Iterable
from itertools import islice
from pathlib import Path

import numpy as np

from viscount.beam.pulses import PulseMaker
from viscount.devices.beams.log import BeamLog

PULSES = 1_000_000
FRACTION = 10
PITCH_US, DARK_US, BOUNCE_US = 25_000, 5_333, 40
CHATTERS = 0.2
BLOCK = 10_000


def write_log(path: Path, pulses: int) -> int:
    """Write a whole log; return how many rows it has."""
    rng = np.random.default_rng(1)
    rows = 1
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write("time_s,blocked,seq,boot\n0.000000,0,0,0\n")
        for first in range(0, pulses, BLOCK):
            count = min(BLOCK, pulses - first)
            starts = (first + np.arange(1, count + 1)) * PITCH_US + rng.integers(-500, 500, count)
            edges = np.stack([starts, starts + DARK_US + rng.integers(-99, 99, count)], axis=1)
            times = [
                at
                for at, chatters in zip(
                    edges.ravel().tolist(), rng.random(2 * count) < CHATTERS, strict=True
                )
                for at in ((at, at + BOUNCE_US, at + 2 * BOUNCE_US) if chatters else (at,))
            ]
            file.writelines(
                f"{t // 1_000_000}.{t % 1_000_000:06d},{k % 2},{k},0\n"
                for k, t in enumerate(times, start=rows)
            )
            rows += len(times)
        file.write(f"# end {(pulses + 2) * PITCH_US / 1e6:.6f}\n")
    return rows


def drained(things: Iterable[object]) -> int:
    """Return how many there are, and keep none."""
    return sum(1 for _ in things)


def made(path: Path, rows: int | None = None) -> int:
    """Make pulses of a log, or of its first rows; return how many."""
    log, maker, pulses = BeamLog(path), PulseMaker(), 0
    for edge in islice(log.edges(), rows):
        pulses += len(maker.feed(edge))
    return pulses + len(maker.finish(log.end_device_t_ns))


def traced_kib(path: Path, rows: int | None) -> float:
    """Return the greatest memory that making the pulses takes at once, in KiB."""
    tracemalloc.start()
    made(path, rows)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1024


def seconds(path: Path, rows: int | None = None) -> float:
    """Return the time that making the pulses takes."""
    started = time.process_time()
    made(path, rows)
    return time.process_time() - started


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--pulses", type=int, default=PULSES)
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "beam.csv"
        rows = write_log(path, given.pulses)
        few = rows // FRACTION
        found = made(path)
        if found != given.pulses:
            raise SystemExit(f"{found} pulses made of {given.pulses}")
        reading = []
        for _ in range(given.runs):
            started = time.process_time()
            drained(BeamLog(path).edges())
            reading.append(time.process_time() - started)
        whole = min(seconds(path) for _ in range(given.runs))
        part = min(seconds(path, few) for _ in range(given.runs))
        peaks = [traced_kib(path, few), traced_kib(path, None)]

    figures = {
        "pulses": given.pulses,
        "rows": rows,
        "read_rows_per_s": round(rows / min(reading)),
        "rows_per_s": round(rows / whole),
        "us_per_pulse": round(whole / given.pulses * 1e6, 2),
        "time_per_row_against_a_tenth": round(whole / rows / (part / few), 3),
        "peak_kib_tenth": round(peaks[0], 1),
        "peak_kib": round(peaks[1], 1),
    }
    if given.json:
        print(json.dumps(figures))
        return
    for name, value in figures.items():
        print(f"{name:<32}{value:>14,}")


if __name__ == "__main__":
    main()
