"""Laws of the default detector: what it sees turns with the picture, and ignores a pedestal."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pictures import FRAME_NS, box, pixels, ring, with_part

from viscount.seams import View
from viscount.values import Blob, Falls, Frame
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

SHAPE = (97, 83)
Pixels = NDArray[np.uint8]
Turn = Callable[[Pixels], Pixels]

parts = st.lists(
    st.tuples(st.floats(12, 70), st.floats(12, 84), st.sampled_from([20.0, 60.0, 140.0, 220.0])),
    min_size=1,
    max_size=3,
)


def taken(spots: list[tuple[float, float, float]], seed: int) -> list[Pixels]:
    """Return an uneven empty scene in 30 frames, then parts moving in four more."""
    rng = np.random.default_rng(seed)
    empty = 100 + 20 * np.sin(np.arange(SHAPE[0]) / 9)[:, None] + np.arange(SHAPE[1]) / 9
    films = [pixels(empty, rng) for _ in range(30)]
    for k in range(4):
        scene = empty
        for n, (x, y, grey) in enumerate(spots):
            shape = box(SHAPE, x, y + 3 * k, 9, 14) if n % 2 else ring(SHAPE, x, y + 3 * k, 8, 3)
            scene = with_part(scene, shape, grey)
        films.append(pixels(scene, rng))
    return films


def seen(pictures: list[Pixels], falls: Falls) -> list[tuple[Blob, ...]]:
    detector = DifferenceDetector(DifferenceOptions(learning_rate=0), View(falls=falls))
    frames = [
        Frame(index=k, t_ns=k * FRAME_NS, pixels=np.ascontiguousarray(picture))
        for k, picture in enumerate(pictures)
    ]
    detector.prime(frames[:30])
    return [detector.see(frame).blobs for frame in frames[30:]]


# Each turn of the picture, with the fall after it and where a point (x, y) of it comes from.
TURNS: dict[str, tuple[Turn, Falls, Callable[[float, float], tuple[float, float]]]] = {
    "left to right": (np.fliplr, Falls.DOWN, lambda x, y: (SHAPE[1] - 1 - x, y)),
    "upside down": (np.flipud, Falls.UP, lambda x, y: (x, SHAPE[0] - 1 - y)),
    "quarter": (np.rot90, Falls.RIGHT, lambda x, y: (SHAPE[1] - 1 - y, x)),
    "transposed": (np.transpose, Falls.RIGHT, lambda x, y: (y, x)),
}


@settings(max_examples=12, deadline=None)
@given(spots=parts, seed=st.integers(0, 1000))
@pytest.mark.parametrize("turn", TURNS)
def test_blobs_turn_with_the_picture(
    turn: str, spots: list[tuple[float, float, float]], seed: int
) -> None:
    apply, falls, back = TURNS[turn]
    plain = taken(spots, seed)
    first = seen(plain, Falls.DOWN)
    second = seen([apply(picture) for picture in plain], falls)
    for straight, turned in zip(first, second, strict=True):
        expected = sorted((b.x_px, b.y_px, b.area_px) for b in straight)
        got = sorted((*back(b.x_px, b.y_px), b.area_px) for b in turned)
        assert len(got) == len(expected)
        assert np.allclose(got, expected, atol=1e-5)
        profiles = sorted(sorted(b.profile.tolist()) for b in straight)
        assert sorted(sorted(b.profile.tolist()) for b in turned) == profiles
        for key in ("sigma_x_px", "sigma_y_px"):
            other = key if falls.vertical else {"sigma_x_px": "sigma_y_px"}.get(key, "sigma_x_px")
            sigmas = sorted(getattr(b, key) for b in straight)
            assert np.allclose(sorted(getattr(b, other) for b in turned), sigmas, rtol=0.15)


@settings(max_examples=12, deadline=None)
@given(spots=parts, seed=st.integers(0, 1000), pedestal=st.integers(1, 30))
def test_a_constant_grey_on_all_frames_changes_nothing(
    spots: list[tuple[float, float, float]], seed: int, pedestal: int
) -> None:
    plain = [np.clip(picture, 0, 225) for picture in taken(spots, seed)]
    first = seen(plain, Falls.DOWN)
    second = seen([picture + np.uint8(pedestal) for picture in plain], Falls.DOWN)
    for one, other in zip(first, second, strict=True):
        assert [b.box for b in one] == [b.box for b in other]
        assert np.allclose(
            [(b.x_px, b.y_px) for b in one], [(b.x_px, b.y_px) for b in other], atol=1e-5
        )
