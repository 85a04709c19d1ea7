"""Who watched when."""

import numpy as np
import pytest
from scipy import stats

from viscount.agreement.watch import Watch, inside, without
from viscount.values import Unwatched, Watched


def test_holes_are_cut_out():
    assert without([(0, 10)], [(2, 3), (5, 7)]).tolist() == [[0, 2], [3, 5], [7, 10]]
    assert without([(0, 10)], [(-5, 2), (9, 20)]).tolist() == [[2, 9]]
    assert without([(0, 10)], [(-1, 11)]).size == 0
    assert without([(0, 4), (6, 8)], [(3, 7)]).tolist() == [[0, 3], [7, 8]]
    assert without([(0, 10)], [(2, 6), (3, 4)]).tolist() == [[0, 2], [6, 10]]


def test_chances_at_an_edge_are_those_of_a_normal_error():
    spans = np.array([[0.0, 100.0], [200.0, np.inf]])
    at = np.array([50.0, 100.0, 150.0, 105.0, 1e9])
    found = inside(spans, at, np.full(5, 5.0))
    assert found == pytest.approx([1.0, 0.5, 0.0, stats.norm.cdf(-1.0), 1.0], abs=1e-9)


def test_a_beam_without_a_word_always_watches():
    assert Watch().beam_spans(0).tolist() == [[-np.inf, np.inf]]
    assert Watch().camera_spans().tolist() == [[-np.inf, np.inf]]


def test_epochs_are_kept_apart():
    watch = Watch(
        beam=(Watched(epoch=0, start_ns=0, end_ns=50), Watched(epoch=1, start_ns=5, end_ns=20)),
        unwatched=(Unwatched(epoch=1, start_ns=8, end_ns=9, edges_lost=2),),
    )
    assert watch.beam_spans(0).tolist() == [[0, 50]]
    assert watch.beam_spans(1).tolist() == [[5, 8], [9, 20]]
    assert watch.beam_spans(2).size == 0
