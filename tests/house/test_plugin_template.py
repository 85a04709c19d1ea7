"""The template for plugins is a plugin: found by its own pyproject.toml, taken, and working.

Nothing is installed: its distribution is made up from the file that would build it.
"""

import re
import tomllib
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from viscount.errors import PluginError
from viscount.hooks.loading import Registry, load_plugins
from viscount.seams import View
from viscount.values import Falls, Frame


@pytest.fixture
def template(root: Path) -> Path:
    return root / "plugins" / "template"


@pytest.fixture
def project(template: Path) -> dict[str, Any]:
    text = (template / "pyproject.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["project"]


@pytest.fixture
def registry(
    template: Path, project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Registry:
    info = tmp_path / f"{project['name'].replace('-', '_')}-{project['version']}.dist-info"
    info.mkdir()
    head = f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {project['version']}\n"
    (info / "METADATA").write_text(head, encoding="utf-8")
    points = "".join(f"{n} = {m}\n" for n, m in project["entry-points"]["viscount"].items())
    (info / "entry_points.txt").write_text(f"[viscount]\n{points}", encoding="utf-8")
    monkeypatch.syspath_prepend(template / "src")
    (distribution,) = metadata.distributions(path=[str(tmp_path)])
    return load_plugins(distribution.entry_points)


def test_it_is_taken_with_its_distribution_named(registry: Registry) -> None:
    assert registry.refused == ()
    assert registry.detectors["bright-threshold"].origin == "viscount-plugin-template 0.1.0"


def test_its_entry_point_has_the_name_of_its_detector(
    registry: Registry, project: dict[str, Any]
) -> None:
    names = {name for name, one in registry.detectors.items() if one.origin != "built-in"}
    assert set(project["entry-points"]["viscount"]) == names


def test_the_outlet_file_of_its_readme_makes_a_detector_that_sees(
    registry: Registry, template: Path
) -> None:
    page = (template / "README.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"^ *```yaml\n(.*?)^ *```$", page, re.MULTILINE | re.DOTALL)
    asked = yaml.safe_load(example)["detector"]
    detector = registry.make_detector(
        asked["name"], asked["options"], View(falls=Falls.LEFT), where="outlet.yaml"
    )
    pixels = np.zeros((30, 40), np.uint8)
    pixels[10:14, 5:15] = asked["options"]["level"] + 1
    (blob,) = detector.see(Frame(index=0, t_ns=0, pixels=pixels)).blobs
    assert blob.box == (5, 10, 15, 14)
    assert (blob.x_px, blob.y_px) == (9.5, 11.5)
    assert list(blob.profile) == [4] * 10


def test_a_misspelt_option_is_told_with_file_key_and_plugin(registry: Registry) -> None:
    with pytest.raises(PluginError) as caught:
        registry.make_detector("bright-threshold", {"levle": 3}, View(), where="outlet.yaml")
    assert str(caught.value) == (
        "outlet.yaml: detector.options.levle: unknown key, nearest known is 'level'; these are "
        "options of detector 'bright-threshold' (viscount-plugin-template 0.1.0); "
        "allowed: level, min_area_px"
    )
