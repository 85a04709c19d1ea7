"""The JSON of the truth, and the schema that says what its keys mean."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from viscount.simulate.pour import simulate
from viscount.simulate.scene import load_scene
from viscount.simulate.truth import SCHEMA, truth_schema

SCENES = Path(__file__).parents[4] / "fixtures" / "scenes"


def objects() -> Iterator[tuple[str, dict[str, Any]]]:
    schema = truth_schema()
    yield "Truth", schema
    yield from schema["$defs"].items()


def test_every_key_is_described_and_times_and_lengths_have_units() -> None:
    for name, schema in objects():
        assert schema["description"], name
        for key, own in schema["properties"].items():
            assert own.get("description"), f"{name}.{key}"
            if key.endswith(("_ns", "_px", "_px_s", "_mm_s", "_px_per_mm", "_sigma")):
                assert own["unit"], f"{name}.{key}"
    parts = truth_schema()["$defs"]["PartTruth"]["properties"]
    units = {key: own["unit"] for key, own in parts.items() if "unit" in own}
    assert units["line_t_ns"] == "ns"
    assert (units["speed_px_s"], units["speed_mm_s"]) == ("px/s", "mm/s")
    assert "counting line" in parts["line_t_ns"]["description"]


@pytest.mark.parametrize("name", ["gate-pinch", "beam-overflows", "bound-plates", "bounce"])
def test_truth_of_every_kind_fits_the_schema(name: str) -> None:
    text = simulate(load_scene(SCENES / f"{name}.yaml")).truth.to_json()
    assert "NaN" not in text
    assert "Infinity" not in text
    truth = json.loads(text)
    assert truth["schema"] == SCHEMA
    jsonschema.validate(truth, truth_schema())


def test_the_schema_refuses_what_is_no_truth() -> None:
    truth = json.loads(simulate(load_scene(SCENES / "gate-pinch.yaml")).truth.to_json())
    for broken in (
        {**truth, "schema": "viscount.truth/1"},
        {key: value for key, value in truth.items() if key != "frames"},
        {**truth, "parts": [{**truth["parts"][0], "line_t_ns": "soon"}]},
    ):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, truth_schema())


def test_what_a_part_never_did_is_null() -> None:
    """The gate stops the last part before it comes to the line and to the blade."""
    truth = json.loads(simulate(load_scene(SCENES / "gate-pinch.yaml")).truth.to_json())
    part = truth["parts"][-1]
    keys = ("line_t_ns", "beam_t_ns", "blade_t_ns", "bag", "speed_px_s", "speed_mm_s")
    assert [part[key] for key in (*keys, "across_px", "length_px", "bound_sigma_ns")] == [None] * 9
