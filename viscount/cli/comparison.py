"""A tally beside the truth of a simulated pour."""

import json
import math
from dataclasses import dataclass
from pathlib import Path

from viscount.tally import Tally
from viscount.values import Direction


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Truth and count of one pour.

    Attributes
    ----------
    truth : how many parts crossed the line.
    counted : how many were counted; None where the tally has no count.
    worst_ms, rms_ms : how far crossing times are off, part by part in order of time; None
        where not each part is one passage.
    """

    truth: int
    counted: int | None
    worst_ms: float | None
    rms_ms: float | None

    @property
    def equal(self) -> bool:
        """Whether the count is the truth."""
        return self.counted == self.truth

    @property
    def counted_words(self) -> str:
        """The count beside the truth, in words."""
        if self.counted is None:
            return "no count"
        return f"{self.counted} parts: {'the same' if self.equal else 'NOT the same'}"


def compared(tally: Tally, truth_file: Path) -> Comparison:
    """Return how a tally compares with a ``truth.json``."""
    truth = json.loads(truth_file.read_text(encoding="utf-8"))
    true_ns = sorted(p["line_t_ns"] for p in truth["parts"] if p["line_t_ns"] is not None)
    passages = [p.passage for p in tally.passages]
    single = all(p.parts == 1 and p.direction is Direction.WITH for p in passages)
    worst_ms = rms_ms = None
    if true_ns and single and len(passages) == len(true_ns):
        found_ns = sorted(p.t_ns for p in passages)
        off_ms = [abs(a - b) * 1e-6 for a, b in zip(found_ns, true_ns, strict=True)]
        worst_ms = max(off_ms)
        rms_ms = math.sqrt(sum(ms**2 for ms in off_ms) / len(off_ms))
    return Comparison(truth=len(true_ns), counted=tally.count, worst_ms=worst_ms, rms_ms=rms_ms)
