"""The coil's own time, against closed forms worked out elsewhere and a circuit integrated."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from viscount.plan import Coil, clamp_rows

COIL = Coil(resistance_ohm=40.0, inductance_h=0.06, supply_v=12.0)
ohms, henries, volts = st.floats(1.0, 1e3), st.floats(1e-3, 1.0), st.floats(3.0, 48.0)


@pytest.mark.parametrize(
    ("share", "clamp_v", "ms"),
    [
        # A first-order circuit of 40 ohm and 60 mH at 12 V, worked out with another program.
        (0.3, 0.0, 1.8060),
        (0.3, 0.8, 1.6018),
        (0.3, 24.8, 0.3887),
        (0.1, 0.0, 3.4539),
        (0.1, 0.8, 2.7844),
        (0.1, 24.8, 0.5211),
    ],
)
def test_how_long_a_clamp_keeps_it_holding(share: float, clamp_v: float, ms: float):
    assert COIL.fall_s(share, clamp_v) * 1e3 == pytest.approx(ms, abs=6e-5)


def test_rise_energy_and_heat():
    assert COIL.rise_s(0.6) * 1e3 == pytest.approx(1.3744, abs=6e-5)
    assert COIL.energy_j == pytest.approx(2.7e-3)
    assert (COIL.current_a, COIL.power_w) == pytest.approx((0.3, 3.6))


@given(ohm=ohms, henry=henries, volt=volts, clamp=st.floats(0.0, 60.0), share=st.floats(0.05, 0.95))
def test_the_circuit_integrated_takes_as_long(ohm, henry, volt, clamp, share):
    coil = Coil(resistance_ohm=ohm, inductance_h=henry, supply_v=volt)

    def reached(t, current):
        return current[0] - share * coil.current_a

    reached.terminal = True
    found = solve_ivp(
        lambda t, current: -(clamp + ohm * current) / henry,
        (0.0, 10.0 * henry / ohm),
        [coil.current_a],
        events=reached,
        rtol=1e-9,
        atol=1e-12,
    )
    assert coil.fall_s(share, clamp) == pytest.approx(found.t_events[0][0], rel=1e-5)


@given(ohm=ohms, henry=henries, volt=volts)
def test_more_voltage_lets_go_sooner_and_no_share_lasts_for_ever(ohm, henry, volt):
    rows = clamp_rows(Coil(resistance_ohm=ohm, inductance_h=henry, supply_v=volt))
    falls = np.array([row.falls_s for row in rows])
    assert (np.diff(falls, axis=0) < 0).all()
    assert (np.diff(falls, axis=1) > 0).all()
