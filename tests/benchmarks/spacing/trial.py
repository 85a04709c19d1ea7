"""One simulated pour, counted and measured, beside its truth."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from benchmarks.spacing.true_spacing import TrueFall
from numpy.typing import NDArray

import viscount
from viscount.measure.spaced import Given, Spaced, spaced
from viscount.outlet import load_outlet
from viscount.simulate.pour import simulate, write_pour
from viscount.simulate.scene import Scene
from viscount.values import Direction, Status

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """One quantity at one height: (m,) found, true and stated standard uncertainty."""

    height: str
    quantity: str
    found: Floats
    true: Floats
    sigma: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """What became of a pour; `compared` is empty where it was not counted exactly and clean."""

    scene: str
    status: str
    exact: bool
    spaced: Spaced | None
    compared: tuple[Compared, ...]


def tried(scene: Scene, below_lip_mm: tuple[float, ...]) -> Trial:
    """Simulate, count and measure a scene."""
    truth = simulate(scene).truth
    with tempfile.TemporaryDirectory() as folder:
        written = write_pour(scene, Path(folder))
        tally = viscount.count(written.clip, outlet=written.outlet)
        outlet = load_outlet(written.outlet)
    crossed = [p for p in truth.parts if p.line_t_ns is not None]
    order = np.array(
        [p.part for p in sorted(crossed, key=lambda p: p.line_t_ns or 0)], dtype=np.intp
    )
    through = [p for p in tally.passages if p.passage.direction is Direction.WITH]
    single = all(p.passage.parts == 1 for p in through)
    exact = tally.status is Status.CLEAN and len(through) == len(order) and single
    if not exact:
        return Trial(
            scene=scene.name, status=tally.status.value, exact=False, spaced=None, compared=()
        )
    found = spaced([Given(tally=tally, outlet=outlet)], below_lip_mm)
    line_mm = _line_mm(scene)
    fall = TrueFall(scene, max(*below_lip_mm, line_mm))
    return Trial(
        scene=scene.name,
        status=tally.status.value,
        exact=True,
        spaced=found,
        compared=tuple(_compared(found, fall, order, line_mm)),
    )


def _line_mm(scene: Scene) -> float:
    view = scene.view
    return view.falls.sign * (view.line_px - view.lip_px) / view.scale_px_per_mm


def _compared(
    found: Spaced, fall: TrueFall, order: NDArray[np.intp], line_mm: float
) -> list[Compared]:
    made = []
    start = 0
    for pour in found.pours:
        own = order[start : start + len(pour.pour.poured)]
        start += len(own)
        for one in pour.heights:
            if one.at.name not in ("line", "given") or len(own) < 2:
                continue
            below = line_mm if one.at.name == "line" else one.at.below_lip
            true = fall.at(below, own)
            near = one.neighbours
            for quantity, values, sigma, truth in (
                ("interval", near.interval_s, near.sigma_interval_s, true.interval_s),
                ("spacing", near.spacing, near.sigma_spacing, true.spacing_mm),
                ("gap", near.gap_s, near.sigma_gap_s, true.gap_s),
            ):
                known = np.isfinite(values) & np.isfinite(sigma) & np.isfinite(truth)
                made.append(
                    Compared(
                        height="line" if one.at.name == "line" else f"{below:g} mm",
                        quantity=quantity,
                        found=values[known],
                        true=truth[known],
                        sigma=sigma[known],
                    )
                )
    return made
