"""What kind of stream a pour is."""

import numpy as np
import pytest

from viscount.measure.rhythm import Rhythm, beat, in_words


def told(t_s: np.ndarray) -> Rhythm:
    return beat(np.diff(t_s), np.arange(1.0, len(t_s) + 1)).rhythm


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("count", [10, 20, 60])
def test_each_kind_is_told(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    n = np.arange(1, count + 1)
    jitter = 2e-4 * rng.standard_normal(count)
    assert told(np.sqrt(2 * n * 5.5 / 2350.0) + jitter) is Rhythm.COLUMN
    assert told(0.03 * n + 5 * jitter) is Rhythm.REGULAR


def test_a_random_stream_is_hardly_ever_called_anything_else() -> None:
    rng = np.random.default_rng(4)
    kinds = [told(np.cumsum(rng.exponential(0.03, 40))) for _ in range(200)]
    assert kinds.count(Rhythm.RANDOM) >= 196


def test_a_few_parts_tell_nothing() -> None:
    found = beat(np.full(4, 0.01), np.arange(1.0, 6.0))
    assert found.rhythm is Rhythm.UNKNOWN
    assert "too few" in in_words(found)
    assert beat(np.zeros(0), np.ones(1)).rhythm is Rhythm.UNKNOWN


def test_words_name_the_scatter() -> None:
    n = np.arange(1.0, 31.0)
    assert "column" in in_words(beat(np.diff(np.sqrt(n)), n))
    assert "regular" in in_words(beat(np.full(29, 0.01), n))
    loose = beat(0.01 * (1.0 + 0.25 * np.sin(np.arange(29))), n)
    assert "loosely regular" in in_words(loose)
