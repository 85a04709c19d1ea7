"""Spaces of scenes: what is drawn from them."""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from viscount.errors import SceneError
from viscount.simulate.scene import Column, Escapement
from viscount.simulate.space import Space, load_space

READY = Path(__file__).parents[3] / "fixtures" / "scene_space.yaml"

SPACE = """
parts: [{standard: ISO 4762 M4x12}]
release:
  one_of:
    - {kind: column, count: {whole: [3, 5]}, pitch_mm: 16, acceleration_mm_s2: 2500}
    - {kind: escapement, count: 4, interval_ms: {log_uniform: [100, 10000]}}
view:
  scale_px_per_mm: {uniform: [2, 4]}
  distance_mm: {chance: 0.25, of: 200}
"""


def space(folder: Path, text: str = SPACE) -> Space:
    path = folder / "space.yaml"
    path.write_text(text, encoding="utf-8")
    return load_space(path)


def test_a_seed_draws_one_scene(tmp_path: Path) -> None:
    drawn = space(tmp_path)
    assert drawn.draw(5) == drawn.draw(5)
    assert drawn.draw(5) != drawn.draw(6)
    assert (drawn.draw(5).seed, drawn.draw(5).name) == (5, "drawn 5")


def test_draws_follow_their_distributions(tmp_path: Path) -> None:
    drawn = space(tmp_path)
    scenes = [drawn.draw(k) for k in range(300)]
    columns = [s.release for s in scenes if isinstance(s.release, Column)]
    steady = [s.release for s in scenes if isinstance(s.release, Escapement)]
    assert stats.binomtest(len(columns), len(scenes), 0.5).pvalue > 1e-3
    assert {c.count for c in columns} == {3, 4, 5}
    logs = np.log10([e.interval_ms for e in steady])
    assert stats.kstest(logs, stats.uniform(2, 2).cdf).pvalue > 1e-3
    scales = [s.view.scale_px_per_mm for s in scenes]
    assert stats.kstest(scales, stats.uniform(2, 2).cdf).pvalue > 1e-3
    near = sum(s.view.distance_mm is not None for s in scenes)
    assert stats.binomtest(near, len(scenes), 0.25).pvalue > 1e-3


def draw_some(folder: Path, text: str) -> None:
    drawn = space(folder, text)
    for seed in range(20):
        drawn.draw(seed)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[2, 4]", "[4, 2]", "uniform: .4, 2.; allowed: .low, high."),
        ("[100, 10000]", "[0, 1000]", "numbers above 0"),
        ("{whole: [3, 5]}", "{one_of: []}", "one_of without a list"),
        ("[2, 4]", "[-4, -2]", "none of 200 draws"),
        ("scale_px_per_mm", "scale", "none of 200 draws"),
        ("view:", "view", "space.yaml"),
    ],
)
def test_what_cannot_be_drawn_is_refused(tmp_path: Path, old: str, new: str, words: str) -> None:
    with pytest.raises(SceneError, match=words):
        draw_some(tmp_path, SPACE.replace(old, new))


def test_the_ready_space_draws_scenes() -> None:
    ready = load_space(READY)
    scenes = [ready.draw(k) for k in range(60)]
    assert {s.camera.fps for s in scenes} == {30.0, 60.0, 90.0, 120.0, 187.0, 240.0}
    assert {s.release.kind for s in scenes} == {"column", "escapement", "poisson", "clumps"}
