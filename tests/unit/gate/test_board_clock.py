"""The board's clock beside a recording, by sums done by hand."""

import numpy as np
import pytest

from viscount.codes import Code
from viscount.gate.board_clock import BoardClock, board_clock

TOLD = {
    "offset_s": 100.0,
    "drift_ppm": 500.0,
    "offset_sigma_s": 3e-4,
    "drift_sigma_ppm": 40.0,
    "epochs": 1,
    "said": {Code.BEAM_MISSED},
}


def clock(**changes: object) -> BoardClock | None:
    return board_clock("pour.mp4", **{**TOLD, **changes})  # type: ignore[arg-type]


def test_a_fast_board_is_ahead_by_more_and_more() -> None:
    found = clock()
    assert found is not None
    at_s, sigma_s = found.on_capture(np.array([100.0, 110.005]))
    assert at_s == pytest.approx([0.0, 10.0], abs=1e-9)
    # 40 ppm of 10 s are 0.4 ms.
    assert sigma_s == pytest.approx(0.5e-3, rel=1e-3)


@pytest.mark.parametrize(
    "changes",
    [
        {"offset_s": None},
        {"epochs": 2},
        {"epochs": 0},
        {"said": {Code.CLOCKS_AMBIGUOUS}},
        {"said": {Code.CLOCKS_UNFITTED, Code.BEAM_MISSED}},
    ],
)
def test_clocks_that_were_not_fitted_tell_nothing(changes: dict[str, object]) -> None:
    assert clock(**changes) is None
