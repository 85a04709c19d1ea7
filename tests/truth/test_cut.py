"""The plan of a cut against cuts: by brute force, and by the simulator's own gate."""

import numpy as np
import pytest
from benchmarks.cutting.brute import Setting, outcomes
from poured_by_hand import column, drawn_strokes, poured, strokes

from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.gate.trials import Trials
from viscount.simulate.physics import paths
from viscount.simulate.scene import Ball, Column, Cycle, Gate, Scene

PLACES = Places(beam=-40.0, blade=60.0, sigma_beam=0.3, sigma_blade=0.3)
LATE = Lateness(least_s=1e-4, most_s=4e-4, tick_s=1e-4, jitter_s=5e-5)
SETTING = Setting(
    beam=-40.0, blade=60.0, sigma_beam=0.3, sigma_blade=0.3, late=(1e-4, 4e-4), tick=1e-4,
    jitter=5e-5,
)  # fmt: skip
ERRORS = {"sigma_end": 0.05, "sigma_acceleration": 30.0, "sigma_speed_share": 0.003}


def test_stated_chances_are_those_of_cuts_made_by_brute_force() -> None:
    count = 16
    own = {"sigma_s": np.full(count, 1e-4), "sigma_speed": np.full(count, 3.0)}
    pours = [column(count, jitter_s=3e-4, seed=k, **own, **ERRORS) for k in range(4)]
    gate = drawn_strokes(25, 3)
    rows = {r.number: r for r in plan_cuts(pours, PLACES, gate, lateness=LATE).rows}
    for number in (2, 8, 13):
        row = rows[number]
        assert row.outcome is not None
        assert row.trigger.delay_s is not None
        for off_s in (0.0, 1.5e-3, -2e-3):
            delay = row.trigger.delay_s + off_s
            trials = Trials(pours, PLACES, gate, LATE, seed=5)
            stated = trials.outcome(number, row.trigger.back, delay)
            met = outcomes(
                pours, SETTING, gate.shutting.begins_s, gate.shutting.done_s, number=number,
                back=row.trigger.back, delay_s=delay, cuts=25_000, seed=number,
            )  # fmt: skip
            for key, share in met.items():
                chance = getattr(stated, key)
                assert chance.low - 0.01 <= share <= chance.high + 0.01, (number, off_s, key)
                assert chance.estimate == pytest.approx(share, abs=0.025), (number, off_s, key)


def test_a_slow_blade_is_short_and_over_by_what_brute_force_says() -> None:
    """Parts far apart and a gate without a stroke: nothing is pinched, much short or over."""
    pours = [poured(0.012 * np.arange(9), 1500.0, half_mm=0.1, sigma_s=np.full(9, 2e-3))]
    gate = strokes([5.0, 17.0, 29.0], [5.001, 17.001, 29.001])
    places = Places(beam=-20.0, blade=30.0)
    trials = Trials(pours, places, gate, Lateness(), seed=5)
    stated = trials.outcome(4, 0, 0.0175)
    met = outcomes(
        pours, Setting(beam=-20.0, blade=30.0), gate.shutting.begins_s, gate.shutting.done_s,
        number=4, back=0, delay_s=0.0175, cuts=25_000, seed=1,
    )  # fmt: skip
    assert min(met["short"], met["over"]) > 0.1
    for key in ("short", "over", "pinched"):
        assert getattr(stated, key).estimate == pytest.approx(met[key], abs=0.03)


def test_outcomes_are_those_of_the_simulated_gate() -> None:
    """Balls of 4 mm from a column, all in one lane, and the command at many times."""
    column_ = Column(count=12, pitch_mm=5.0, acceleration_mm_s2=2000.0)
    reach_ms, shut_ms, number = 3.0, 5.0, 4

    def poured_into(command_ms: float):  # type: ignore[no-untyped-def]
        gate = Gate(
            below_lip_mm=100.0,
            thickness_mm=1e-3,
            reach_ms=reach_ms,
            shut_takes_ms=shut_ms,
            open_takes_ms=0.0,
            cycles=(Cycle(open_ms=-1000.0, shut_ms=command_ms),),
        )
        scene = Scene(parts=(Ball(diameter_mm=4.0),), release=column_, gate=gate, lead_in_s=0.0)
        return paths(scene, 200.0)

    free = poured_into(5000.0)
    stream = poured(free.lip_s, free.lip_speed_mm_s, half_mm=2.0)
    places = Places(beam=40.0, blade=100.0)
    trials = Trials([stream], places, strokes([reach_ms], [shut_ms]), Lateness(), seed=1)
    edge_s = float(trials.streams[0].at_beam_s[0, number - 1])
    met = set()
    for delay_ms in np.arange(20.0, 80.0, 2.9):
        (bag,) = poured_into(1e3 * edge_s + delay_ms).bags
        kind = "pinched"
        if not bag.pinched_after:
            off = len(bag.content) - number
            kind = "exact" if not off else "short" if off < 0 else "over"
        stated = trials.outcome(number, 0, 1e-3 * delay_ms)
        assert getattr(stated, kind).estimate == 1.0, (delay_ms, kind)
        met.add(kind)
        # All that had not come yet lie on the blade in the end; those past the beam are of them.
        held = stated.held_past_beam.most
        assert held <= len(bag.held_after)
    assert met == {"exact", "short", "over", "pinched"}
