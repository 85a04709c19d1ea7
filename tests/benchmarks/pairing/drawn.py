"""Pours drawn at random with a beam beside the camera, from clip and log to the tally of both."""

import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from benchmarks.accuracy.cases import MODES, Mode, outlet_of, random_cases, write_case

from viscount.offline import compare, count
from viscount.simulate.scene import Scene
from viscount.tally import Tally
from viscount.values import Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One pour in one mode.

    Attributes
    ----------
    true : parts that crossed the line.
    unseen : of those, no frame showed and no pulse was of them: neither counter can know of them.
    separable : whether the camera alone can tell its parts apart, by the truth.
    camera : status of the camera alone, beside no beam; `camera_right` whether its count is true.
    reasons : of the tally of both.
    offset_ms : of the clock, against the truth; None where it is not told.
    """

    seed: int
    mode: Mode
    true: int
    unseen: int
    separable: bool
    count: int | None
    low: int
    high: int
    status: Status
    reasons: tuple[str, ...]
    camera: Status
    camera_right: bool
    pulses: int
    offset_ms: float | None
    offset_z: float | None

    @property
    def exact(self) -> bool:
        """Whether the count is the true one."""
        return self.count == self.true

    @property
    def clean_and_wrong(self) -> bool:
        """The worst that can be, but for parts that neither counter can know of."""
        return self.status is Status.CLEAN and self.count != self.true - self.unseen

    def plain(self) -> dict[str, Any]:
        """Return it as plain values."""
        made = {name: getattr(self, name) for name in self.__slots__}
        return made | {"status": self.status.value, "camera": self.camera.value}


def with_beam(scene: Scene, seed: int) -> Scene:
    """Return a drawn scene with a beam somewhere below its line, and a board with faults."""
    rng = np.random.default_rng([seed, 77])
    line_mm = (scene.view.line_px - scene.view.lip_px) / scene.view.scale_px_per_mm
    beam = {
        "below_lip_mm": round(line_mm + float(rng.uniform(-10.0, 25.0)), 1),
        "width_mm": round(float(rng.uniform(0.5, 3.0)), 2),
        "operate_us": 20.0,
        "release_us": 30.0,
        "offset_s": round(float(rng.uniform(0.0, 10.0)), 3),
        "drift_ppm": round(float(rng.uniform(-100.0, 100.0)), 1),
        "board": {
            "jitter_us": 5.0,
            "bounces": float(rng.choice([0.0, 0.4])),
            "bounce_us": 60.0,
            "missed": float(rng.choice([0.0, 0.0, 0.08])),
        },
    }
    return scene.model_validate(scene.model_dump() | {"beam": beam})


def judged(seed: int) -> list[Drawn]:
    """Draw a pour, count it with its beam in both modes, and compare with the truth."""
    (case,) = random_cases(1, seed)
    scene = with_beam(case.scene, seed)
    with tempfile.TemporaryDirectory(prefix="drawn-") as folder:
        files = write_case(type(case)(name=case.name, scene=scene), Path(folder))
        log = files.clip.with_name("beam.csv")
        truth = json.loads(files.clip.with_name("truth.json").read_text(encoding="utf-8"))
        found = []
        for mode in MODES:
            outlet = outlet_of(files, scene, mode)
            alone = count(files.clip, outlet=outlet)
            both = compare(alone, log, outlet=outlet)
            found.append(_drawn(seed, mode, scene, alone, both, files.known, truth))
        return found


def _drawn(
    seed: int, mode: Mode, scene: Scene, alone: Tally, both: Tally, known: Any, truth: dict
) -> Drawn:
    assert scene.beam is not None
    missed = truth["board"]["missed_pulses"]
    hidden = sum(part["hidden"] for part in truth["parts"] if part["line_t_ns"] is not None)
    agreement = both.agreement
    off = z = None
    if agreement is not None and agreement.clock_offset_s is not None:
        off = agreement.clock_offset_s - scene.beam.offset_s
        z = off / agreement.offset_sigma_s if agreement.offset_sigma_s else None
    return Drawn(
        seed=seed,
        mode=mode,
        true=known.count,
        unseen=min(hidden, missed) if missed else 0,
        separable=known.separable[mode],
        count=both.count,
        low=both.count_low,
        high=both.count_high,
        status=both.status,
        reasons=tuple(dict.fromkeys(reason.code.code for reason in both.reasons)),
        camera=alone.camera.status,
        camera_right=alone.count == known.count,
        pulses=both.beam.pulses if both.beam is not None else 0,
        offset_ms=None if off is None else 1e3 * off,
        offset_z=z,
    )
