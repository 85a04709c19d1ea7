"""Bags of six in a row: what was inferred of each, and what the plan promised of its cut.

    python tests/benchmarks/bench_bags.py [--json] [--bags 1000] [--clips 8]

Machines are drawn, planned for from a few measured pours and strokes, and cut by the plan (one in
four carelessly) in the simulator; passages are the truth with errors. A few more bags go the whole
way from drawn clips. Good is: no bag that is called clean has another content than inferred, and
the range of all holds it in 95 % of bags or more; and of all cuts that were promised alike as many
are exact as the limits allow.
"""

import argparse
import json
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.bagging.chain import (
    NEEDS,
    WANTED,
    Filling,
    drawn_world,
    filled,
    measured_strokes,
    planned,
)
from benchmarks.bagging.clips import counted, scenes

CHAINS = 5
STEPS = (0.0, 0.5, 0.9, 0.99, 0.999, 1.0001)


def in_a_row(bags: int) -> list[tuple[Filling, bool]]:
    """Return so many bags, at least, each with whether its machine commands as planned."""
    made: list[tuple[Filling, bool]] = []
    seed = 0
    while len(made) < bags:
        world = drawn_world(seed)
        strokes = measured_strokes(world)
        plan = planned(world, strokes)
        for chain in range(CHAINS):
            own = filled(world, plan, strokes, 1000 * seed + chain)
            made += [(one, not world.careless_ms) for one in own]
        seed += 1
    return made


def figures(made: list[tuple[Filling, bool]]) -> dict[str, Any]:
    """Return how many were right, and how many of the clean ones were not."""
    fillings = [one for one, _ in made]
    clean = [one for one in fillings if one.inferred.status.value == "clean"]
    wrong = [one for one in fillings if one.inferred.content != one.content]
    doubtful = [one for one in fillings if one.inferred.status.value != "clean"]
    why = Counter(r.code.value for one in doubtful for r in one.inferred.reasons)
    inside = sum(one.inferred.low <= one.content <= one.inferred.high for one in fillings)
    upset = [one for one in doubtful if one.pinched or one.content != one.inferred.content]
    return {
        "bags": len(fillings),
        "chains_of": len(NEEDS),
        "truly_wanted": sum(one.content == WANTED for one in fillings),
        "truly_pinched": sum(one.pinched > 0 for one in fillings),
        "clean": len(clean),
        "clean_wrong": sum(one.inferred.content != one.content for one in clean),
        "clean_wrong_at_most": 3.0 / len(clean) if clean else None,
        "clean_pinched": sum(one.pinched > 0 for one in clean),
        "wrong": len(wrong),
        "range_holds": inside / len(fillings),
        "doubtful": len(doubtful),
        "doubtful_though_right": len(doubtful) - len(upset),
        "why": dict(why),
        "promises": promises(made),
    }


def promises(made: list[tuple[Filling, bool]]) -> list[dict[str, Any]]:
    """Return by promised chance of an exact cut: how many were made, and were exact."""
    rows = []
    kept = [one for one, as_planned in made if as_planned and one.promised is not None]
    for low, high in pairwise(STEPS):
        own = [one for one in kept if one.promised is not None and low <= one.promised < high]
        if own:
            right = sum(one.content == WANTED and not one.pinched for one in own)
            rows.append(
                {
                    "from": low,
                    "to": min(high, 1.0),
                    "cuts": len(own),
                    "promised": sum(one.promised or 0.0 for one in own) / len(own),
                    "least": sum(one.promised_low or 0.0 for one in own) / len(own),
                    "most": sum(one.promised_high or 0.0 for one in own) / len(own),
                    "exact": right / len(own),
                    "clean": sum(one.inferred.status.value == "clean" for one in own) / len(own),
                }
            )
    return rows


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--bags", type=int, default=1000)
    parser.add_argument("--clips", type=int, default=8)
    given = parser.parse_args()
    found = figures(in_a_row(given.bags))
    clips = [bag for scene in scenes(given.clips) for bag in counted(scene)]
    clean = [bag for bag in clips if bag["clean"]]
    found["clips"] = {
        "bags": len(clips),
        "right": sum(bag["content"] == bag["inferred"] for bag in clips),
        "clean": len(clean),
        "clean_wrong": sum(bag["content"] != bag["inferred"] for bag in clean),
        "why": dict(Counter(code for bag in clips for code in bag["why"] + bag["count_why"])),
    }
    good = not found["clean_wrong"] and not found["clips"]["clean_wrong"]
    good = good and all(r["least"] <= r["exact"] <= r["most"] for r in found["promises"])
    found["good"] = good = good and found["range_holds"] >= 0.95
    if given.json:
        print(json.dumps(found))
        return 0 if good else 1
    for key, value in found.items():
        if key != "promises":
            print(f"{key:22} {value}")
    for row in found["promises"]:
        print(
            f"promised {row['from']:.3f} to {row['to']:.3f}: {row['cuts']} cuts, on average "
            f"{100 * row['promised']:.2f} % "
            f"({100 * row['least']:.1f} to {100 * row['most']:.1f} %), "
            f"exact {100 * row['exact']:.2f} %, called clean {100 * row['clean']:.1f} %"
        )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
