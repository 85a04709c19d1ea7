"""Made-up pours with known figures."""

from collections.abc import Callable

import pytest
from benchmarks.accuracy.cases import MODES
from benchmarks.accuracy.judging import Judgement
from benchmarks.pours.pour import Pour

from viscount.values import Status

PourMaker = Callable[..., Pour]


@pytest.fixture
def pour() -> PourMaker:
    """Return a function that makes a pour, alike in both modes: clean and exact by itself."""

    def make(seed: int = 1, **changes: object) -> Pour:
        plain = {
            "scene": f"random-{seed}",
            "true": 20,
            "hidden": 0,
            "separable": True,
            "count": 20,
            "low": 20,
            "high": 20,
            "status": Status.CLEAN,
            "reasons": (),
            "timing": None,
            "ms_per_frame": 1.5,
            "rivals": {},
        }
        return Pour(
            seed=seed,
            seconds=0.1 * seed,
            judged=tuple(Judgement(mode=mode, **(plain | changes)) for mode in MODES),
        )

    return make
