"""The stored figures, and what fell below them.

They are kept for each major version of OpenCV, whose pictures differ by a rounding here and
there: scene, then mode, then count, true count, status and rms error of the times.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import cv2
from benchmarks.accuracy.judging import Judgement

from viscount.errors import UsageError
from viscount.values import Status

BASELINE: Final = Path(__file__).resolve().parents[1] / "accuracy_baseline.json"
SCHEMA: Final = "viscount.accuracy-baseline/1"
RMS_FACTOR: Final = 1.25
RMS_FLOOR_MS: Final = 0.002

_WORSE: Final = {Status.CLEAN: 0, Status.DOUBTFUL: 1, Status.INVALID: 2}

Baseline = dict[str, Any]


def opencv_major() -> str:
    """Return the major version of the OpenCV that runs."""
    return cv2.__version__.split(".")[0]


def load_baseline(path: Path = BASELINE) -> Baseline:
    """Return the figures stored for the OpenCV that runs.

    Raises
    ------
    UsageError
        Where the file is not there, or has none for this OpenCV.
    """
    remedy = "python tests/benchmarks/bench_accuracy.py --write-baseline"
    if not path.exists():
        raise UsageError("no baseline is stored", where=str(path), remedy=f"run {remedy}")
    stored = json.loads(path.read_text(encoding="utf-8"))["opencv"]
    major = opencv_major()
    if major not in stored:
        raise UsageError(
            f"no baseline for OpenCV {major}",
            where=str(path),
            allowed=f"OpenCV {' or '.join(sorted(stored))}",
            remedy=f"run {remedy} with this OpenCV, and look at every figure before keeping it",
        )
    found: Baseline = stored[major]
    return found


def write_baseline(judged: Sequence[Judgement], path: Path = BASELINE) -> None:
    """Store these figures for the OpenCV that runs; other scenes and versions stay."""
    whole: dict[str, Any] = {"schema": SCHEMA, "opencv": {}}
    if path.exists():
        whole = json.loads(path.read_text(encoding="utf-8"))
    stored = whole["opencv"].setdefault(opencv_major(), {})
    for one in judged:
        stored.setdefault(one.scene, {})[one.mode] = {
            "count": one.count,
            "true": one.true,
            "status": one.status.value,
            "rms_ms": None if one.timing is None else round(one.timing.rms_ms, 5),
        }
    whole["opencv"][opencv_major()] = dict(sorted(stored.items()))
    path.write_text(_text(whole), encoding="utf-8")


def compare(judged: Sequence[Judgement], baseline: Mapping[str, Any]) -> list[str]:
    """Say what fell below the baseline; nothing where all is as good as it was.

    The count must be the stored one (or the true one), the status not worse, no count clean and
    wrong that was not so before, and the times at most a quarter (and 0.002 ms) worse.
    """
    fell = []
    for one in judged:
        stored = baseline.get(one.scene, {}).get(one.mode)
        name = f"{one.scene}, {one.mode}"
        if stored is None:
            fell.append(f"{name}: not in the baseline")
            continue
        fell += [f"{name}: {what}" for what in _fell(one, stored)]
    return fell


def _fell(one: Judgement, stored: Mapping[str, Any]) -> list[str]:
    fell = []
    if stored["true"] != one.true:
        return [f"the scene has {one.true} crossings, and had {stored['true']}"]
    if one.count != stored["count"] and not one.exact:
        fell.append(f"counts {one.count}, and counted {stored['count']} (true: {one.true})")
    was = Status(stored["status"])
    if _WORSE[one.status] > _WORSE[was]:
        reasons = ", ".join(one.reasons)
        fell.append(f"{one.status.value} ({reasons}), and was {was.value}")
    was_wrong = was is Status.CLEAN and stored["count"] != stored["true"]
    if one.clean_and_wrong and not was_wrong:
        fell.append(f"clean and wrong: {one.count} for {one.true}, and was {was.value}")
    if stored["rms_ms"] is not None and one.count is not None:
        limit = RMS_FACTOR * stored["rms_ms"] + RMS_FLOOR_MS
        if one.timing is None:
            fell.append("no crossing time could be matched")
        elif one.timing.rms_ms > limit:
            fell.append(f"times off by {one.timing.rms_ms:.4f} ms rms, more than {limit:.4f}")
    return fell


def _text(whole: Mapping[str, Any]) -> str:
    """Return the file's text, one scene a line, so that a change shows where it is."""
    lines = [f'{{"schema": {json.dumps(whole["schema"])}, "opencv": {{']
    versions = sorted(whole["opencv"].items())
    for v, (major, scenes) in enumerate(versions):
        lines.append(f"{json.dumps(major)}: {{")
        for k, (scene, modes) in enumerate(scenes.items()):
            comma = "," if k + 1 < len(scenes) else ""
            lines.append(f"{json.dumps(scene)}: {json.dumps(modes)}{comma}")
        lines.append("}," if v + 1 < len(versions) else "}")
    return "\n".join([*lines, "}}"]) + "\n"
