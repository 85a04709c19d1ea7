"""Crossings of straight tracks against trackpy, a general-purpose linker of particles."""

import numpy as np
import pandas as pd
import pytest
import trackpy
from streams import stream

from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior
from viscount.motion.tracker import Tracker
from viscount.values import Falls

trackpy.quiet()


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::FutureWarning")
@pytest.mark.parametrize("seed", range(4))
def test_crossings_of_linked_straight_tracks(seed: int):
    rng = np.random.default_rng(seed)
    made = stream(
        np.sort(rng.uniform(0.1, 1.1, 20)),
        rng.uniform(900, 1300, 20),
        lip=-30,
        fps=240,
        across=rng.uniform(20, 140, 20),
        size=(6, 8),
        seed=seed,
    )
    whole = [
        (s.index, s.t_ns * 1e-9, b.x_px, b.y_px)
        for s in made.sightings
        for b in s.blobs
        if not b.cut_by_edge
    ]
    points = pd.DataFrame(whole, columns=["frame", "t", "x", "y"])
    linked = trackpy.link(points, search_range=7, memory=0)
    theirs = sorted(
        float(np.interp(made.line, track.y, track.t))
        for _, track in linked.groupby("particle")
        if track.y.min() < made.line < track.y.max()
    )
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, MotionPrior(acceleration_px_s2=0.0))
    found = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
    ours = sorted(p.t_ns * 1e-9 for p in found if p.parts)
    assert len(ours) == len(theirs) == 20
    # Theirs come from the two sightings next to the line, 0.1 px off each, at 1 px/ms.
    np.testing.assert_allclose(ours, theirs, atol=0.5e-3)
    assert np.std(np.array(ours) - made.crossings_s) < np.std(np.array(theirs) - made.crossings_s)
