"""A signature learned from parts that passed alone."""

import numpy as np
import pytest

from viscount.beam.learning import closest, learn_signature, scatter
from viscount.values import Pulse


def parts_of(looks: list[list[float]]) -> list[list[Pulse]]:
    """Return parts with pulses of (dark, light, dark, ...) in ms."""
    made = []
    for k, look in enumerate(looks):
        ends = np.cumsum([100.0 * k, *look])
        made.append(
            [
                Pulse(id=0, epoch=0, start_ns=round(a * 1e6), end_ns=round(b * 1e6))
                for a, b in zip(ends[::2], ends[1::2], strict=True)
            ]
            if look
            else []
        )
    return made


def washers(rng: np.random.Generator, through: int, beside: int) -> list[list[float]]:
    looks = [[1.67, 3.33, 1.67] * (1 + 0.02 * rng.standard_normal(3)) for _ in range(through)]
    looks += [[5.0 * (1 + 0.02 * rng.standard_normal())] for _ in range(beside)]
    return [list(look) for look in looks]


def test_washers_through_the_bore_and_beside_it():
    looks = washers(np.random.default_rng(1), through=35, beside=15)
    signature = learn_signature(parts_of(looks))
    assert signature is not None
    assert signature.unit == "ms"
    through, beside = signature.modes
    assert (through.chance, beside.chance) == (0.7, 0.3)
    assert through.darks == pytest.approx((1.67, 1.67), rel=0.02)
    assert through.lights == pytest.approx((3.33,), rel=0.02)
    assert beside.darks == pytest.approx((5.0,), rel=0.02)
    assert signature.unseen == 0.0


def test_screws_that_pass_along_and_across():
    """Two lengths of one pulse are two modes."""
    rng = np.random.default_rng(2)
    looks = [[10.0 + 0.2 * rng.standard_normal()] for _ in range(30)]
    looks += [[4.0 + 0.1 * rng.standard_normal()] for _ in range(10)]
    signature = learn_signature(parts_of(looks))
    assert signature is not None
    assert [mode.chance for mode in signature.modes] == [0.75, 0.25]
    assert [mode.darks[0] for mode in signature.modes] == pytest.approx([10.0, 4.0], rel=0.02)


def test_what_was_not_alone_is_left_out():
    """One pulse of two parts, and one of dust, among twenty."""
    rng = np.random.default_rng(3)
    looks = [[5.33 * (1 + 0.01 * rng.standard_normal())] for _ in range(20)]
    signature = learn_signature(parts_of([*looks, [9.0], [0.3]]))
    assert signature is not None
    (mode,) = signature.modes
    assert mode.chance == 1.0
    assert mode.darks[0] == pytest.approx(5.33, rel=0.01)
    # The least scatter stands over what so few show.
    assert mode.sigma == pytest.approx(0.03 * 5.33, rel=0.05)


def test_the_scatter_is_that_of_the_parts():
    rng = np.random.default_rng(4)
    looks = [[20.0 + 1.2 * rng.standard_normal()] for _ in range(400)]
    signature = learn_signature(parts_of(looks))
    assert signature is not None
    assert signature.modes[0].sigma == pytest.approx(1.2, rel=0.2)


def test_parts_that_the_beam_did_not_see():
    signature = learn_signature(parts_of([[5.0]] * 9 + [[]]))
    assert signature is not None
    assert signature.unseen == pytest.approx(0.1)
    assert sum(mode.chance for mode in signature.modes) == pytest.approx(0.9)


def test_cut_parts_teach_nothing():
    cut = [Pulse(id=0, epoch=0, start_ns=0, end_ns=10**6, cut=True)]
    lost = [Pulse(id=0, epoch=0, start_ns=0, end_ns=10**6, lost_edges=1)]
    assert learn_signature([cut, lost] * 5) is None
    signature = learn_signature([cut, lost, *parts_of([[5.0]] * 5)])
    assert signature is not None
    assert signature.modes[0].darks == (5.0,)


@pytest.mark.parametrize("parts", [[], [[]], [[], []], parts_of([[5.0]])])
def test_too_little_teaches_nothing(parts: list[list[Pulse]]):
    assert learn_signature(parts) is None


def test_speeds_turn_times_into_lengths():
    """8 mm at three speeds."""
    speeds = [1000.0, 1500.0, 2000.0] * 4
    parts = parts_of([[8.0 / v * 1e3] for v in speeds])
    signature = learn_signature(parts, unit="mm", speeds=speeds)
    assert signature is not None
    assert signature.unit == "mm"
    assert signature.modes[0].darks == pytest.approx((8.0,), rel=1e-5)
    with pytest.raises(ValueError, match="speed"):
        learn_signature(parts, unit="mm")


def test_the_closest_are_found_alike_in_one_dimension_and_in_several():
    rng = np.random.default_rng(5)
    looks = np.exp(rng.normal(0.0, 0.2, (60, 1)))
    one, several = closest(looks), closest(np.hstack([looks, looks]))
    assert one.sum() == several.sum()
    assert scatter(looks[one]) > 0
