"""What teaching writes into a part file: read back as it was, and refused where it is damaged."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from taught_parts import taught_keys

from viscount.errors import OutletError
from viscount.outlet import Outlet, Part, as_yaml, load_outlet, load_part, outlet_with

Keys = dict[str, Any]


def part_of(**how: Any) -> Part:
    return Part.model_validate({"name": "M4 washer", "taught": taught_keys(**how)})


@pytest.mark.parametrize("scale", [4.0, None])
@pytest.mark.parametrize("beam", [True, False])
def test_it_is_read_back_as_it_was_written(tmp_path: Path, scale: float | None, beam: bool) -> None:
    part = part_of(scale=scale, beam=beam)
    file = tmp_path / "part.yaml"
    file.write_text(as_yaml(part), encoding="utf-8")
    assert load_part(file) == part
    inline = tmp_path / "outlet.yaml"
    inline.write_text(as_yaml(Outlet(part=part)), encoding="utf-8")
    assert load_outlet(inline).part == part


@pytest.mark.parametrize(("scale", "unit"), [(4.0, "mm"), (None, "px")])
def test_its_measures_are_in_the_unit_that_the_scale_allows(scale: float | None, unit: str) -> None:
    taught = part_of(scale=scale, beam=True, smear=0.5).taught
    assert taught is not None
    assert taught.unit == unit
    assert (taught.length.median, taught.area.median) == (16.5, 80.0)
    assert (taught.gyration.median, taught.smear) == (5.0, 0.5)
    assert taught.beam is not None
    assert taught.beam.pulse.median == 9.0
    darks, lights, sigma = taught.beam.modes[0].lengths
    assert (len(darks), len(lights), sigma) == (2, 1, pytest.approx(0.18))


def put(*path: str | int, value: object) -> Callable[[Keys], None]:
    """Return what sets one key to another value; None takes the key out."""

    def change(keys: Keys) -> None:
        here: Any = keys
        for step in path[:-1]:
            here = here[step]
        if value is None:
            del here[path[-1]]
        else:
            here[path[-1]] = value

    return change


DAMAGED: dict[str, tuple[Callable[[Keys], None], str, str]] = {
    "no version": (put("version", value=None), "taught", "version"),
    "another version": (put("version", value=2), "taught.version: version 2", "version 1"),
    "a truth for a version": (put("version", value=True), "taught.version", "whole number"),
    "an unknown key": (put("colour", value=3), "taught.colour: unknown key", "singles"),
    "no area": (put("area_mm2", value=None), "taught.area_mm2: nothing", "measure in mm"),
    "no gyration": (put("gyration_mm", value=None), "taught.gyration_mm: nothing", "in mm"),
    "an area in px": (put("area_px2", value=taught_keys(scale=None)["area_px2"]), "px2", "mm"),
    "px without a scale": (put("scale_px_per_mm", value=None), "taught.area_mm2", "px"),
    "a smear in px": (put("smear_px", value=1.0), "taught.smear_px", "mm"),
    "all smear": (put("smear_mm", value=17.0), "taught.smear_mm", "less than the length"),
    "an unsorted measure": (put("length_mm", "p05", value=99.0), "taught.length_mm", "rising"),
    "a measure of nothing": (put("length_mm", "median", value=0), "length_mm.median", "greater"),
    "a measure in words": (put("length_mm", "mad", value="wide"), "length_mm.mad", "a number"),
    "a short profile": (put("profile", "median", value=[1.0] * 3), "profile.median", "24"),
    "a broad profile": (put("profile", "mad", 0, value=1.5), "profile.mad[0]", "at most 1"),
    "more parts than there are": (put("beam", "parts", value=5), "beam.parts: 24 parts", "most"),
    "unlikely chances": (put("beam", "one_pulse", "low", value=0.5), "one_pulse", "rising"),
    "no modes": (put("beam", "modes", value=[]), "beam.modes", ""),
    "chances above 1": (put("beam", "modes", 0, "chance", value=0.9), "beam.modes", "1 at most"),
    "a dark too many": (put("beam", "modes", 1, "darks_mm", value=[1, 2]), "modes[1]", "one light"),
    "modes in px": (put("beam", value=taught_keys(scale=None, beam=True)["beam"]), "beam", "mm"),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_a_damaged_one_is_refused_with_its_place(name: str, tmp_path: Path) -> None:
    change, found, allowed = DAMAGED[name]
    keys = taught_keys(beam=True)
    change(keys)
    file = tmp_path / "part.yaml"
    file.write_text(yaml.safe_dump({"name": "M4 washer", "taught": keys}), encoding="utf-8")
    with pytest.raises(OutletError) as refused:
        load_part(file)
    text = str(refused.value)
    assert found in text
    assert allowed in text
    assert "part.yaml:" in text


def test_a_setting_of_the_command_line_reaches_it() -> None:
    outlet, given = outlet_with(Outlet(part=part_of()), ["part.taught.singles=30"])
    assert given == {"part.taught.singles": 30}
    assert outlet.part is not None
    assert outlet.part.taught is not None
    assert outlet.part.taught.singles == 30
    with pytest.raises(OutletError, match=r"part\.taught\.colour"):
        outlet_with(Outlet(part=part_of()), ["part.taught.colour=30"])
