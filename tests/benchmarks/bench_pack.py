"""How well bags are judged: many simulated bags, faults among them, each line beside the truth.

Machine, link, protocol and simulated board run in handed-in time; parts, blade and camera are
simulated, and what fell into each bag is reckoned from the blade's own log. The journal is a real
file, cut within a line where the power goes.
"""

import argparse
import json
import random
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from packing_rig import MS, ORDER, Falling, Rig, order

from viscount.packing.events import Word
from viscount.packing.record import BagRecord, Result
from viscount.session.journal import Journal, read_journal
from viscount.session.packing import continued

AT = datetime(2026, 1, 1, tzinfo=UTC)
FAULTS = {
    "none": 0.67,
    "next one near": 0.08,
    "slow and late": 0.02,
    "wrong part": 0.03,
    "jam": 0.03,
    "empty magazine": 0.03,
    "power cut": 0.02,
    "camera misses": 0.03,
    "too close": 0.04,
    "board resets": 0.02,
    "both counters miss": 0.02,
    "two in one pulse": 0.01,
}


def falling(fault: str, rng: random.Random) -> Falling:
    match fault:
        case "wrong part":
            return Falling(beam_doubles=0.3)
        case "jam":
            return Falling(stuck_at=rng.randrange(1, 5))
        case "empty magazine":
            return Falling(left=rng.randrange(0, 6))
        case "camera misses":
            return Falling(camera_misses=0.2)
        case "both counters miss":
            first, second = rng.sample(range(6), 2)
            return Falling(beam_misses_at=first, camera_misses_at=second)
        case "two in one pulse":
            return Falling(pair_at=rng.randrange(0, 6))
        case "next one near":
            return Falling(every_ms=(34.0, 42.0))
        case "slow and late":
            return Falling(every_ms=(26.0, 90.0))
        case "too close":
            return Falling(every_ms=(12.0, 30.0))
        case _:
            return Falling()


class Run:
    """Packs bags until there are enough, over power cuts, and compares each line."""

    def __init__(self, bags: int, seed: int, journal: Path) -> None:
        self.wanted = bags
        self.rng = random.Random(seed)
        self.journal = journal
        self.lines = 0
        self.wrong: list[str] = []
        self.kinds: Counter[str] = Counter()
        self.needless = 0
        self.unasked = 0
        self.cuts = 0
        self.simulated_s = 0.0
        self.power_on()

    def power_on(self) -> None:
        self.book = Journal(self.journal)
        asked = continued(order(bags=10**6), self.book.past, check=None)
        self.rig = Rig(asked, seed=self.rng.randrange(2**31))
        self.rig.on_write = lambda record: self.book.write(record, AT)
        self.rig.until(lambda: self.rig.link.linked)

    def power_cut(self, at: str) -> None:
        """The power goes within a pour, or as a line is being written."""
        self.cuts += 1
        self.simulated_s += self.rig.now_ns * 1e-9
        self.book.close()
        if at == "line":
            data = self.journal.read_bytes()
            self.journal.write_bytes(data[: len(data) - self.rng.randrange(1, 40)])
            self.lines -= 1
        self.power_on()

    def bag(self) -> None:
        fault = self.rng.choices(list(FAULTS), list(FAULTS.values()))[0]
        rig = self.rig
        rig.truth.in_bag = rig.truth.pinched = 0
        rig.falling = falling(fault, self.rng)
        before, opens = len(rig.records), rig.asked.count("open")
        rig.say(Word.BAG)
        if fault == "board resets":
            rig.board.reset(rig.now_ns + self.rng.randrange(50, 400) * MS)
        if fault == "power cut" and self.rng.random() < 0.5:
            rig.run(self.rng.randrange(10, 600))
            if str(rig.machine.phase) == "pouring":
                self.power_cut("pour")
                return
        rig.until(lambda: str(rig.machine.phase).startswith("waiting"))
        if fault == "empty magazine":
            rig.falling = Falling()
        self.compare(fault, rig.records[-1] if len(rig.records) > before else None, rig)
        if str(rig.machine.phase) == "waiting for a person":
            had = rig.asked.count("open")
            rig.run(400)
            self.unasked += rig.asked.count("open") - had
            if rig.falling.stuck_at is not None:
                rig.clear_beam()
                rig.run(20)
            if str(rig.machine.phase) == "waiting for a person":
                if self.may_top_up(rig):
                    self.top_up(rig)
                else:
                    rig.empty_blade()
                    rig.say(Word.ASIDE)
                    rig.run(20)
        self.unasked += max(rig.asked.count("open") - opens - 2, 0)
        if fault == "power cut":
            self.power_cut("line")

    def may_top_up(self, rig: Rig) -> bool:
        return bool(rig.records) and "top it up" in rig.wants() and self.rng.random() < 0.7

    def top_up(self, rig: Rig) -> None:
        rig.falling = Falling()
        rig.say(Word.TOP_UP)
        rig.until(lambda: str(rig.machine.phase).startswith("waiting"))
        self.compare("topped up", rig.records[-1], rig)
        if str(rig.machine.phase) == "waiting for a person":
            rig.empty_blade()
            rig.say(Word.ASIDE)

    def compare(self, fault: str, record: BagRecord | None, rig: Rig) -> None:
        if record is None:
            self.wrong.append(f"{fault}: no line")
            return
        self.lines += 1
        self.kinds[f"{fault}: {record.result}"] += 1
        truth = rig.truth
        known = record.result in (Result.GOOD, Result.SHORT, Result.OVER)
        if known and (truth.pinched or record.in_bag != truth.in_bag or record.held != truth.held):
            self.wrong.append(f"{fault}: {record} but {truth}")
        if fault in ("none", "next one near", "empty magazine") and not known:
            self.needless += 1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bags", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        journal = Path(folder) / "bags.jsonl"
        run = Run(given.bags, given.seed, journal)
        done = 0
        while done < given.bags:
            run.bag()
            done += 1
        run.book.close()
        past = read_journal(journal)
    good = sum(n for kind, n in run.kinds.items() if kind.endswith(": good"))
    figures = {
        "bags": done,
        "each": ORDER.each,
        "lines_compared": run.lines,
        "lines_in_journal": len(past.records),
        "good": good,
        "wrong": run.wrong,
        "good_wrong_upper_95": round(3.0 / max(good, 1), 5),
        "needless_doubt": run.needless,
        "opened_unasked": run.unasked,
        "power_cuts": run.cuts,
        "kinds": dict(sorted(run.kinds.items())),
        "seconds": round(time.perf_counter() - begun, 1),
    }
    if given.json:
        print(json.dumps(figures))
    else:
        for name, value in figures.items():
            print(f"{name}: {value}")
    if run.wrong or run.unasked:
        sys.exit(f"{len(run.wrong)} lines are wrong, opened unasked {run.unasked} times")


if __name__ == "__main__":
    main()
