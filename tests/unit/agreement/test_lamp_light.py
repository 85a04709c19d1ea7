"""A lamp's light, frame by frame, and what it says of when the lamp was switched."""

import numpy as np
import pytest

from viscount.agreement.lamp_light import LampLight
from viscount.values import Frame

FRAME_NS = 8_333_333
BOX = (4, 2, 8, 6)


def frame(k: int, grey: float, rng: np.random.Generator | None = None, **more: object) -> Frame:
    """Return a dim picture with the lamp's box at `grey`, with noise of 2 grey."""
    pixels = np.full((12, 16), 60.0)
    pixels[2:6, 4:8] = grey
    if rng is not None:
        pixels += 2.0 * rng.standard_normal(pixels.shape)
    whole = np.clip(np.rint(pixels), 0, 255).astype(np.uint8)
    return Frame(index=k, t_ns=k * FRAME_NS, pixels=whole, **more)  # type: ignore[arg-type]


def seen(greys: list[float], light: LampLight | None = None, *, noisy: bool = False) -> LampLight:
    light = light or LampLight(BOX)
    rng = np.random.default_rng(5) if noisy else None
    for k, grey in enumerate(greys):
        light.look(frame(k, grey, rng))
    return light


def test_each_change_lies_between_two_frames() -> None:
    on, off = seen([20, 20, 250, 250, 250, 20, 20]).events()
    assert (on.on, off.on) == (True, False)
    assert on.t_ns == pytest.approx(1.5 * FRAME_NS, abs=1)
    assert off.t_ns == pytest.approx(4.5 * FRAME_NS, abs=1)
    assert on.sigma_ns == pytest.approx(FRAME_NS / np.sqrt(12), abs=1)


def test_times_count_from_where_they_are_asked_to() -> None:
    light = seen([20, 250])
    (plain,), (moved,) = light.events(), light.events(1_000)
    assert plain.t_ns - moved.t_ns == 1_000


def test_a_half_lit_frame_is_neither_but_lies_between() -> None:
    (on,) = seen([20, 20, 135, 250, 250]).events()
    assert on.t_ns == 2 * FRAME_NS
    assert on.sigma_ns == pytest.approx(2 * FRAME_NS / np.sqrt(12), abs=1)
    assert seen([20, 20, 135, 20, 250, 20]).events()[0].t_ns == 7 * FRAME_NS // 2


def test_one_lit_frame_of_thousands_is_seen_in_noise() -> None:
    greys = [20.0] * 4000
    greys[1234] = 200.0
    on, off = seen(greys, noisy=True).events()
    assert (on.on, off.on) == (True, False)
    assert on.t_ns < 1234 * FRAME_NS < off.t_ns


@pytest.mark.parametrize("greys", [[], [20.0], [20.0] * 50, [20.0, 26.0] * 20])
def test_a_lamp_that_never_changes_says_nothing(greys: list[float]) -> None:
    assert seen(greys).events() == ()


def test_noise_and_a_slow_drift_of_the_light_are_no_lamp() -> None:
    assert seen([60.0] * 500, noisy=True).events() == ()
    assert seen([60.0 + 0.1 * k for k in range(500)], noisy=True).events() == ()


def test_repeated_and_damaged_pictures_say_nothing() -> None:
    light = seen([20, 20])
    light.look(frame(2, 250, repeated=True))
    light.look(frame(3, 250, damaged=True))
    light.look(frame(4, 250))
    (on,) = light.events()
    assert on.t_ns == pytest.approx(2.5 * FRAME_NS, abs=1)
    assert on.sigma_ns == pytest.approx(3 * FRAME_NS / np.sqrt(12), abs=1)


def test_the_lines_of_the_lamp_are_read_later_than_the_frame_begins() -> None:
    light = seen([20, 250], LampLight(BOX, (0.004, 0.006)))
    (on,) = light.events()
    assert on.t_ns == pytest.approx(0.5 * FRAME_NS + 5_000_000, abs=1)
    assert on.sigma_ns == pytest.approx(np.hypot(FRAME_NS, 2e6) / np.sqrt(12), abs=2)


def test_stated_sigmas_are_honest() -> None:
    """Switched at any moment, over many lamps: the errors scatter as stated."""
    rng = np.random.default_rng(11)
    z = []
    for _ in range(300):
        at = float(rng.uniform(2, 8))
        (on,) = seen([20.0 if k < at else 220.0 for k in range(12)]).events()
        z.append((on.t_ns - at * FRAME_NS) / on.sigma_ns)
    assert np.std(z) == pytest.approx(1.0, abs=0.1)
    assert abs(np.mean(z)) < 0.2
