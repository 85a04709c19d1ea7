"""What a result rests on that nobody stated."""

import pytest
from counting import outlet

from viscount.agreement.statements import assumptions, nothing_seen
from viscount.codes import Code


def assumed(**sections: dict[str, object]) -> set[Code]:
    made = assumptions(
        outlet(**sections),
        {},
        line_px=80.0,
        speed_px_s=None,
        acceleration_px_s2=None,
        rate_hz=120.0,
    )
    return {one.code for one in made}


def test_everything_is_assumed_where_nothing_is_stated() -> None:
    assert assumed() == {
        Code.LINE_ASSUMED,
        Code.FALLS_ASSUMED,
        Code.MOTION_ASSUMED,
        Code.CLOCK_ASSUMED,
        Code.READOUT_ASSUMED,
    }


@pytest.mark.parametrize("readout", ["down", "global"])
def test_a_stated_readout_is_not_assumed(readout: str) -> None:
    assert Code.READOUT_ASSUMED not in assumed(camera={"readout": readout})


def test_an_empty_view_is_told_with_what_would_be_too_faint() -> None:
    assert nothing_seen(None) == "nothing moved through the view"
    assert "less than 20 grey" in nothing_seen(19.6)
