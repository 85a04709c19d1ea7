"""A space of scenes: a scene file in which values may be drawn at random.

Wherever a scene file has a value, a space may have one of

- ``{uniform: [low, high]}``, ``{log_uniform: [low, high]}``: a number between the two,
- ``{whole: [low, high]}``: a whole number, both included,
- ``{one_of: [first, second, ...]}``: one of these, each of which may hold draws itself,
- ``{chance: share, of: value}``: the value with that chance, else the key is left out.

The same seed gives the same scene. A draw that makes no valid scene (an exposure longer than
the frame interval, say), or one whose parts would run through one another as they leave, is
drawn again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from viscount.errors import SceneError
from viscount.outlet.mistakes import place_in_file
from viscount.outlet.strict_yaml import parse
from viscount.simulate.physics import overlapping
from viscount.simulate.scene.loading import scene_from, scene_text
from viscount.simulate.scene.scene import Scene

ATTEMPTS: Final = 200
"""A space of which so many draws in a row make no scene is refused."""

_BETWEEN: Final = ("uniform", "log_uniform", "whole")
_LEFT_OUT: Final = object()


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """A checked space; `data` is its file as plain values."""

    data: Mapping[str, Any]
    where: str

    def draw(self, seed: int) -> Scene:
        """Return the scene that `seed` draws; its own seed is the same.

        Raises
        ------
        SceneError
            Where no draw makes a scene.
        """
        refused: SceneError | None = None
        for attempt in range(ATTEMPTS):
            sequence = np.random.SeedSequence(seed, spawn_key=(8, attempt))
            drawn = _drawn(self.data, np.random.default_rng(sequence), self.where)
            drawn |= {"seed": seed, "name": f"{drawn.get('name', 'drawn')} {seed}"}
            try:
                scene = scene_from(drawn, self.where)
            except SceneError as error:
                refused = error
                continue
            pairs = overlapping(scene)
            if not pairs:
                return scene
            refused = SceneError(f"parts {pairs[0][0]} and {pairs[0][1]} run into each other")
        raise SceneError(
            f"none of {ATTEMPTS} draws makes a scene; the last: {refused}", where=self.where
        )


def load_space(path: str | Path) -> Space:
    """Read a file that holds a space of scenes.

    Raises
    ------
    SceneError
        Where it is not strict YAML, or its draws are not as described above.
    """
    document = parse(scene_text(path))
    where = str(path)
    if document.mistakes:
        first = document.mistakes[0]
        place = place_in_file(where)(first)
        raise SceneError(first.found, where=place, allowed=first.allowed, remedy=first.remedy)
    if not isinstance(document.value, Mapping):
        raise SceneError("no keys and values", where=where)
    space = Space(document.value, where)
    space.draw(0)
    return space


def _drawn(value: Any, rng: np.random.Generator, where: str) -> Any:
    """Return `value` with each draw in it drawn."""
    if isinstance(value, Mapping):
        if set(value) == {"one_of"}:
            return _drawn(_one_of(value["one_of"], rng, where), rng, where)
        if len(value) == 1 and next(iter(value)) in _BETWEEN:
            name, given = next(iter(value.items()))
            return _between(name, given, rng, where)
        if set(value) == {"chance", "of"}:
            kept = rng.random() < float(value["chance"])
            return _drawn(value["of"], rng, where) if kept else _LEFT_OUT
        made = {key: _drawn(inner, rng, where) for key, inner in value.items()}
        return {key: inner for key, inner in made.items() if inner is not _LEFT_OUT}
    if isinstance(value, list):
        made_list = [_drawn(inner, rng, where) for inner in value]
        return [inner for inner in made_list if inner is not _LEFT_OUT]
    return value


def _one_of(given: Any, rng: np.random.Generator, where: str) -> Any:
    if not isinstance(given, list) or not given:
        raise SceneError("one_of without a list", where=where, allowed="[first, second, ...]")
    return given[int(rng.integers(len(given)))]


def _between(name: str, given: Any, rng: np.random.Generator, where: str) -> float:
    """Draw a number between the two that a file gives."""
    two = isinstance(given, list) and len(given) == 2
    if not two or not all(isinstance(x, int | float) for x in given) or given[0] > given[1]:
        raise SceneError(f"{name}: {given!r}", where=where, allowed="[low, high]")
    low, high = given
    if name == "whole":
        return int(rng.integers(int(low), int(high) + 1))
    if name == "uniform":
        return float(rng.uniform(low, high))
    if low <= 0:
        raise SceneError(f"{name}: {given!r}", where=where, allowed="numbers above 0")
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
