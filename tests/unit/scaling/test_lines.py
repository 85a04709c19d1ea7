"""The light of each line, with parts in front and pixels that tell nothing."""

import numpy as np
import pytest

from viscount.scaling.lines import MOST_FRAMES, Lines
from viscount.values import Frame


def frame(index: int, pixels: np.ndarray, **more: bool) -> Frame:
    return Frame(index=index, t_ns=index * 10_000_000, pixels=pixels.astype(np.uint8), **more)


def test_bands_are_seen_past_a_part():
    lines = Lines(np.full((60, 100), 100.0, np.float32))
    gain = 1 + 0.1 * np.sin(np.arange(60) / 5)
    picture = np.repeat((100 * gain)[:, None], 100, axis=1)
    # A part over less than half of its lines.
    picture[20:40, 30:70] = 10
    lines.add(frame(0, picture))
    assert lines.rows[0] == pytest.approx(gain, abs=0.012)
    assert lines.columns.shape == (1, 100)
    assert lines.t_s.tolist() == [0.0]


def test_dark_and_full_lines_tell_nothing():
    level = np.full((40, 60), 100.0, np.float32)
    level[5], level[6] = 3.0, 254.0
    lines = Lines(level)
    lines.add(frame(0, np.full((40, 60), 90)))
    assert np.flatnonzero(np.isnan(lines.rows[0])).tolist() == [5, 6]
    assert lines.rows[0][10] == pytest.approx(0.9)


def test_old_pictures_are_left_out():
    lines = Lines(np.full((30, 30), 100.0, np.float32))
    plain = np.full((30, 30), 100)
    lines.add(frame(0, plain))
    lines.add(frame(1, plain, repeated=True))
    lines.add(frame(2, plain, damaged=True))
    lines.add(frame(3, np.full((20, 30), 100)))
    assert len(lines.t_s) == 1


def test_memory_is_bounded():
    lines = Lines(np.full((8, 8), 100.0, np.float32))
    for k in range(MOST_FRAMES + 5):
        lines.add(frame(k, np.full((8, 8), 100)))
    assert len(lines.t_s) == MOST_FRAMES
