"""Small pictures about doubtful places."""

import numpy as np
from watched import FPS

from viscount.monitor.model.proof import KEPT, MOST_PICTURES, Proofs, evenly, small


def one(index: int, shape: tuple[int, int] = (480, 160)) -> np.ndarray:
    return np.full(shape, index % 251, np.uint8)


def test_large_pictures_become_small_and_small_ones_stay() -> None:
    made = small(one(3), index=3, t_s=0.0)
    assert made.pixels.shape == (240, 80)
    assert made.scale == 0.5
    assert (made.pixels == 3).all()
    assert small(one(3, (100, 50)), index=3, t_s=0.0).scale == 1.0
    assert small(one(3, (100, 50)), index=3, t_s=0.0, shrunk=2).scale == 0.5


def test_what_is_kept_is_what_was_about() -> None:
    proofs = Proofs()
    for k in range(100):
        proofs.add(small(one(k), index=k, t_s=k / FPS))
    proofs.keep(7, 40 / FPS, 45 / FPS)
    assert [p.index for p in proofs.of(7)] == [39, 40, 41, 42, 43, 44, 45, 46]
    assert all((p.pixels == p.index).all() for p in proofs.of(7))
    proofs.keep(8, 90.0, 91.0)
    assert proofs.of(8) == ()


def test_memory_is_bounded_by_bytes_time_and_number() -> None:
    proofs = Proofs(latest_bytes=400_000)
    most = 0
    for k in range(4000):
        proofs.add(small(one(k), index=k, t_s=k / FPS))
        if k % 4 == 3:
            proofs.keep(k, (k - 3) / FPS, k / FPS)
        most = max(most, proofs.nbytes) if k > 2000 else most
    assert most <= 400_000 + KEPT * MOST_PICTURES * 240 * 80
    assert proofs.of(3) == ()
    assert len(proofs.of(3999)) > 3


def test_many_frames_are_thinned_evenly() -> None:
    many = [small(one(k, (4, 4)), index=k, t_s=0.0) for k in range(100)]
    kept = [p.index for p in evenly(many)]
    assert (kept[0], kept[-1], len(kept)) == (0, 99, MOST_PICTURES)
    assert set(np.diff(kept)) <= {4, 5}
