"""The page on scene files is what the models say."""

import runpy
from pathlib import Path

FIXTURES = Path(__file__).parents[2] / "fixtures"


def test_the_page_is_up_to_date() -> None:
    """Written again by ``python fixtures/scene_page.py``."""
    made = runpy.run_path(str(FIXTURES / "scene_page.py"))["page"]()
    stored = (FIXTURES / "scenes" / "README.md").read_text(encoding="utf-8")
    assert made == stored


def test_the_page_names_every_scene_key() -> None:
    page = (FIXTURES / "scenes" / "README.md").read_text(encoding="utf-8")
    for key in ("`flicker_hz`", "`torn`", "`readout`", "`restarts_ms`", "`pose`", "`cycles`"):
        assert page.count(f"| {key} |") >= 1
