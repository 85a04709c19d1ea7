"""How well the acceleration of the parts is known."""

import math

import numpy as np
import pytest
from counting import outlet
from tallies import passage

from viscount.measure.acceleration import Acceleration, acceleration_of
from viscount.values import Passage

G, SCALE, DT = 9806.65, 4.0, 1 / 120


def seen(count: int = 40, *, sigma_ns: int = 20_000, frames: int = 9) -> list[Passage]:
    return [
        passage(k, 0.5, sigma_ns=sigma_ns, first_frame=0, last_frame=frames).passage
        for k in range(count)
    ]


def known(
    mm_s2: float, *passages: Passage, scale: float | None = SCALE, **sections: dict
) -> Acceleration:
    made = {"motion": {"kind": "free_fall"}, "part": {"shape": "screw"}, **sections}
    return acceleration_of(
        passages or seen(),
        mm_s2 * (scale or SCALE),
        scale_px_per_mm=scale,
        interval_s=DT,
        outlet=outlet(**made),
    )


def share(one: Acceleration) -> float:
    return one.sigma_px_s2 / one.px_s2


def test_a_stated_one_is_known_to_local_gravity_and_drag() -> None:
    """At 1.5 m/s drag takes up to 4 % x (1.5 / 2)² from a flat washer."""
    most = 0.04 * (1.5 / 2.0) ** 2
    washer = known(G, part={"shape": "washer"})
    assert washer.origin == "stated"
    assert share(washer) == pytest.approx(math.hypot(0.003, most / math.sqrt(3)), rel=1e-6)
    assert share(known(G)) < share(washer) == share(known(G, part={}))


def test_a_chute_is_known_less_and_a_belt_wholly() -> None:
    chute = {"kind": "slide", "acceleration_mm_s2": 4800.0}
    assert share(known(4800.0, motion=chute)) == pytest.approx(0.05)
    assert known(0.0, motion={"kind": "belt"}).sigma_px_s2 == 0.0


def test_a_parabola_through_many_places() -> None:
    """The sigma that a least-squares parabola has, for one part, by its covariance."""
    n, sigma_px = 61, 2.0
    t = np.arange(n) * DT
    design = np.stack([np.ones(n), t - t.mean(), (t - t.mean()) ** 2 / 2], axis=1)
    covariance = sigma_px**2 * np.linalg.inv(design.T @ design)
    middle_s = sigma_px / math.sqrt(n) / 6000.0
    one = seen(1, sigma_ns=round(1e9 * middle_s), frames=n - 1)
    found = acceleration_of(one, 4.0 * G, scale_px_per_mm=None, interval_s=DT, outlet=outlet())
    expected = math.hypot(1.2533 * math.sqrt(covariance[2, 2]), 0.005 * 4.0 * G)
    assert found.sigma_px_s2 == pytest.approx(expected, rel=0.1)


def test_a_learned_one_has_the_drag_of_what_is_still_to_fall() -> None:
    learned = known(0.98 * G, part={"shape": "washer"})
    assert learned.origin == "learned"
    assert share(learned) > 0.04 * (1.5 / 2.0) ** 2 / math.sqrt(3)


@pytest.mark.parametrize("wrong", [1.11, 0.85])
def test_no_fall_is_faster_than_gravity_or_slower_than_drag_allows(wrong: float) -> None:
    found = known(wrong * G)
    nearest = 1.003 if wrong > 1 else 1.0 - 0.01 * (1.5 / 2.0) ** 2
    assert share(found) > 0.99 * abs(wrong - nearest) / wrong
    slide = {"kind": "slide", "acceleration_mm_s2": 9000.0}
    assert share(known(wrong * G, motion=slide)) < 0.02


def test_what_nobody_could_learn_is_a_guess() -> None:
    short = known(0.9 * G, *seen(frames=2))
    assert short.sigma_px_s2 >= 0.3 * short.px_s2
    assert acceleration_of(
        (), 100.0, scale_px_per_mm=None, interval_s=None, outlet=outlet()
    ).sigma_px_s2 == pytest.approx(30.0)
