"""A count beside the truth: right or wrong, how late, how honest."""

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Self

import numpy as np
from benchmarks.accuracy.cases import MODES, Case, Known, Mode, write_case
from benchmarks.accuracy.runs import Run, counted
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from viscount.values import Direction, Passage, Status

Floats = NDArray[np.float64]

GATE_SHARE = 0.5
"""A passage and a crossing can be the same part within this share of the usual interval."""
LONGEST_GATE_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """How good the times of single parts are, over `parts` that could be matched.

    Attributes
    ----------
    rms_ms : root mean square of time minus truth.
    normalised : root mean square of (time minus truth) / sigma; 1 where sigma is honest.
    bound_ratio : rms over the rms of the least possible sigma, where the truth knows that.
    """

    parts: int
    rms_ms: float
    normalised: float
    bound_ratio: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One scene in one mode.

    `doubts` lists for each passage near a crossing its stated doubt and whether its number of
    parts is wrong.
    """

    scene: str
    mode: Mode
    true: int
    hidden: int
    separable: bool
    count: int | None
    low: int
    high: int
    status: Status
    reasons: tuple[str, ...]
    timing: Timing | None
    ms_per_frame: float
    rivals: dict[str, int]
    doubts: tuple[tuple[float, bool], ...] = ()

    @property
    def exact(self) -> bool:
        """Whether the count is the true one."""
        return self.count == self.true

    @property
    def clean_and_wrong(self) -> bool:
        """The worst that can be."""
        return self.status is Status.CLEAN and not self.exact

    @property
    def outcome(self) -> str:
        """Status, and for a clean count whether it is right."""
        if self.status is not Status.CLEAN:
            return self.status.value
        return "clean, exact" if self.exact else "clean, wrong"

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values."""
        plain = asdict(self) | {"status": self.status.value, "outcome": self.outcome}
        del plain["doubts"]
        return plain

    def with_doubts(self) -> dict[str, Any]:
        """Return all of it as plain values, from which it can be made again."""
        return self.as_json() | {"doubts": [[float(d), bool(wrong)] for d, wrong in self.doubts]}

    @classmethod
    def again(cls, plain: Mapping[str, Any]) -> Self:
        """Make it again from what `with_doubts` returned."""
        values = {field.name: plain[field.name] for field in fields(cls)}
        values["status"] = Status(plain["status"])
        values["reasons"] = tuple(plain["reasons"])
        values["timing"] = None if plain["timing"] is None else Timing(**plain["timing"])
        values["doubts"] = tuple((float(d), bool(wrong)) for d, wrong in plain["doubts"])
        return cls(**values)


def judge_case(case: Case, *, rivals: bool = True) -> list[Judgement]:
    """Simulate a case and judge the counting of it in both modes."""
    with tempfile.TemporaryDirectory(prefix="accuracy-") as folder:
        files = write_case(case, Path(folder))
        return [
            judged(case.name, mode, files.known, counted(case, files, mode, rivals=rivals))
            for mode in MODES
        ]


def judged(name: str, mode: Mode, known: Known, run: Run) -> Judgement:
    """Compare a run with the truth."""
    tally = run.tally
    passages = [p.passage for p in tally.passages if p.passage.direction is Direction.WITH]
    true_s = np.array([c.t_ns * 1e-9 for c in known.crossings]) * run.second_s
    return Judgement(
        scene=name,
        mode=mode,
        true=known.count,
        hidden=known.hidden,
        separable=known.separable[mode],
        count=tally.count,
        low=tally.count_low,
        high=tally.count_high,
        status=tally.status,
        reasons=tuple(r.code.code for r in tally.reasons),
        timing=_timing(passages, true_s, known),
        ms_per_frame=run.ms_per_frame,
        rivals=run.rivals,
        doubts=_doubts(passages, true_s),
    )


def matched(found_s: Floats, true_s: Floats) -> list[tuple[int, int]]:
    """Pair found times with true ones: as many as lie close, with the least sum of distances.

    A time without a partner within the gate stays alone, so that a missed part shifts nobody.
    """
    if not found_s.size or not true_s.size:
        return []
    usual = float(np.median(np.diff(np.sort(true_s)))) if true_s.size > 1 else np.inf
    gate = min(GATE_SHARE * usual, LONGEST_GATE_S) or LONGEST_GATE_S
    distance = np.abs(found_s[:, None] - true_s[None, :])
    rows, columns = linear_sum_assignment(np.minimum(distance, gate))
    close = distance[rows, columns] < gate
    return [(int(r), int(c)) for r, c in zip(rows[close], columns[close], strict=True)]


def _timing(passages: Sequence[Passage], true_s: Floats, known: Known) -> Timing | None:
    singles = [p for p in passages if p.parts == 1]
    found_s = np.array([p.t_ns * 1e-9 for p in singles])
    pairs = matched(found_s, true_s)
    if not pairs:
        return None
    late = np.array([found_s[k] - true_s[j] for k, j in pairs])
    sigma = np.array([singles[k].sigma_ns * 1e-9 for k, _ in pairs])
    bounds = [known.crossings[j].bound_ns for _, j in pairs]
    rms = _rms(late)
    bounded = [(x, b) for x, b in zip(late, bounds, strict=True) if b is not None]
    ratio = None
    if bounded:
        errors, least = np.array(bounded).T
        ratio = _rms(errors) / (1e-9 * _rms(least))
    return Timing(
        parts=len(pairs), rms_ms=1e3 * rms, normalised=_rms(late / sigma), bound_ratio=ratio
    )


def _doubts(passages: Sequence[Passage], true_s: Floats) -> tuple[tuple[float, bool], ...]:
    """Ask of each passage whether it stands for as many crossings as it says.

    A crossing that no counted passage matches is charged to the nearest passage, which should
    have had a doubt about it, unless even that one is far.
    """
    if not passages:
        return ()
    found_s = np.array([p.t_ns * 1e-9 for p in passages])
    counted = np.flatnonzero([p.parts > 0 for p in passages])
    taken = {j: int(counted[k]) for k, j in matched(found_s[counted], true_s)}
    claims = np.zeros(len(passages), dtype=int)
    for j, t in enumerate(true_s):
        nearest = int(np.argmin(np.abs(found_s - t)))
        if j in taken or abs(found_s[nearest] - t) < LONGEST_GATE_S:
            claims[taken.get(j, nearest)] += 1
    return tuple((p.doubt, p.parts != int(n)) for p, n in zip(passages, claims, strict=True))


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))
