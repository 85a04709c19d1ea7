"""Files and command-line settings to models, and back."""

import re
from pathlib import Path
from typing import Any, TypeVar

import jsonschema
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError
from taught_parts import taught_keys

from viscount.errors import OutletError
from viscount.outlet import (
    MotionKind,
    Outlet,
    Part,
    Readout,
    Shape,
    as_yaml,
    given_keys,
    json_schema,
    load_outlet,
    load_part,
    outlet_template,
    outlet_with,
)
from viscount.outlet.keys import known_paths, section_of
from viscount.outlet.strict_yaml import parse
from viscount.values import Falls

ModelT = TypeVar("ModelT", bound=BaseModel)

ACTIVATED = re.sub(r"^(\s*)#(?=[a-z])", r"\1", outlet_template(), flags=re.MULTILINE)
SWITCHED_OFF = re.findall(r"^ +(#[a-z].*)$", outlet_template(), flags=re.MULTILINE)


def _numbers(least: float, most: float) -> st.SearchStrategy[float]:
    return st.floats(least, most) | st.integers(int(least), int(most)).map(float)


def _some(**values: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=values)


LENGTHS = _numbers(1, 10_000)
PLACES = _numbers(-1e6, 1e6)
NAMES = st.from_regex(r"[a-z0-9-]{1,12}", fullmatch=True)
PLAIN = st.text(max_size=8) | st.booleans() | st.integers() | st.none()
PLAIN |= st.floats(allow_nan=False, allow_infinity=False)
OPTIONS = st.dictionaries(st.text(min_size=1, max_size=6), PLAIN | st.lists(PLAIN, max_size=3))
BOXES = st.tuples(*[st.integers(0, 5000)] * 2, *[st.integers(1, 5000)] * 2).map(
    lambda b: [b[0], b[1], b[0] + b[2], b[1] + b[3]]
)
HEIGHTS = st.fixed_dictionaries({"at_px": PLACES}) | st.fixed_dictionaries(
    {"below_lip_mm": _numbers(-10_000, 10_000)}
)
PARTS = _some(
    name=st.text(min_size=1, max_size=12) | st.sampled_from(["12:30", "on", "1e3", "017", "null"]),
    shape=st.sampled_from(list(Shape)),
    overall_length_mm=LENGTHS,
    diameter_mm=LENGTHS,
    thickness_mm=LENGTHS,
    bore_mm=LENGTHS,
    along_fall_mm=LENGTHS,
    stack_pitch_mm=LENGTHS,
    taught=st.builds(
        taught_keys,
        length=LENGTHS,
        area=LENGTHS,
        scale=st.sampled_from([4.0, 2, None]),
        beam=st.booleans(),
    ),
)
OUTLETS = _some(
    view=_some(
        scale_px_per_mm=_numbers(1, 1000),
        falls=st.sampled_from(list(Falls)),
        lip_px=PLACES,
        line_px=PLACES,
        region_px=BOXES,
        lamp_px=BOXES,
    ),
    motion=_some(
        kind=st.sampled_from(list(MotionKind)),
        acceleration_mm_s2=_numbers(0, 20_000),
        speed_mm_s=_numbers(0, 100_000),
        speed_tolerance_percent=_numbers(0, 100),
    ),
    camera=_some(
        capture_fps=_numbers(1, 1000),
        exposure_us=_numbers(1, 1e6),
        line_time_us=_numbers(0, 10_000),
        readout=st.sampled_from(list(Readout)),
    ),
    detector=_some(name=NAMES, options=OPTIONS),
    beam=st.builds(dict.__or__, HEIGHTS, _some(width_mm=LENGTHS, min_pulse_us=LENGTHS)),
    gate=st.builds(dict.__or__, HEIGHTS, _some(name=NAMES, options=OPTIONS)),
    part=PARTS,
)
ROOMY = settings(
    max_examples=60,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.filter_too_much,
        HealthCheck.too_slow,
    ],
)


def _made(model: type[ModelT], data: dict[str, Any]) -> ModelT:
    try:
        return model.model_validate(data)
    except ValidationError:
        assume(False)
        raise


@ROOMY
@given(data=OUTLETS)
def test_an_outlet_written_and_loaded_is_the_same(tmp_path: Path, data: dict[str, Any]) -> None:
    outlet = _made(Outlet, data)
    file = tmp_path / "outlet.yaml"
    file.write_text(as_yaml(outlet), encoding="utf-8")
    loaded = load_outlet(file)
    assert loaded == outlet
    assert given_keys(loaded) == given_keys(outlet)
    written = parse(as_yaml(outlet)).value
    jsonschema.validate(written, json_schema())


@ROOMY
@given(data=PARTS)
def test_a_part_written_and_loaded_is_the_same(tmp_path: Path, data: dict[str, Any]) -> None:
    part = _made(Part, data)
    file = tmp_path / "part.yaml"
    file.write_text(as_yaml(part), encoding="utf-8")
    assert load_part(file) == part
    jsonschema.validate(parse(as_yaml(part)).value, json_schema(Part))


def test_the_template_loads_and_gives_nothing(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text(outlet_template(), encoding="utf-8")
    assert load_outlet(file) == Outlet()
    assert given_keys(load_outlet(file)) == ()


def test_the_template_activated_loads_and_gives_every_key(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text(ACTIVATED, encoding="utf-8")
    leaves = {".".join(p) for p in known_paths(Outlet) if len(p) == 2} - {"part.taught"}
    assert set(given_keys(load_outlet(file))) == leaves - {"beam.at_px", "gate.at_px"}


@pytest.mark.parametrize("line", SWITCHED_OFF)
def test_each_setting_of_the_template_loads_alone(tmp_path: Path, line: str) -> None:
    text = outlet_template().replace(f"  {line}\n", f"  {line[1:]}\n")
    if line.startswith(("#width_mm", "#min_pulse_us", "#name: simulated")):
        text = re.sub(r"  #(below_lip_mm)", r"  \1", text)
    elif line == "#options: {}":
        text = text.replace("  #below_lip_mm: 90.0", "  below_lip_mm: 90.0")
    file = tmp_path / "outlet.yaml"
    file.write_text(text, encoding="utf-8")
    assert any(key.endswith(line[1:].split(":")[0]) for key in given_keys(load_outlet(file)))


@pytest.mark.parametrize("text", [outlet_template(), ACTIVATED])
def test_the_schema_accepts_the_template(text: str) -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(parse(text).value, schema)


@pytest.mark.parametrize(
    "text",
    [
        "view: {line_pix: 3}",
        "view: {line_px: 180mm}",
        "view: {line_px: true}",
        "view: {scale_px_per_mm: 0}",
        "view: {falls: sideways}",
        "view: {region_px: [1, 2, 3]}",
        "view: {region_px: [1, 2, 3, 4.5]}",
        "beam: {width_mm: 3}",
        "beam: {below_lip_mm: 3, at_px: 4}",
        "speed: 4",
    ],
)
def test_the_schema_refuses_what_the_loader_refuses(tmp_path: Path, text: str) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(OutletError):
        load_outlet(file)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(parse(text).value, json_schema())


def test_the_schema_describes_every_key() -> None:
    schema = json_schema()
    for path in known_paths(Outlet):
        section = section_of(Outlet, path[0])
        assert section is not None
        node = schema["$defs"][section.__name__]
        node = node["properties"][path[1]] if len(path) == 2 else node
        assert node["description"]


def test_a_key_without_a_value_is_not_given(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("view:\n  line_px:\n  lip_px: 0\nbeam:\npart: ~\n", encoding="utf-8")
    assert given_keys(load_outlet(file)) == ("view.lip_px",)


def test_plugin_options_keep_their_nulls(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("detector: {options: {mask: null}}", encoding="utf-8")
    assert load_outlet(file).detector.options == {"mask": None}


@pytest.mark.parametrize("head", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_line_ends_and_byte_order_mark_change_nothing(
    tmp_path: Path, head: bytes, end: bytes
) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_bytes(head + end.join([b"view:", b"  line_px: 1e3", b"part: {name: M4 \xc3\xa9}"]))
    outlet = load_outlet(file)
    assert outlet.view.line_px == 1000.0
    assert outlet.part == Part(name="M4 é")


def test_settings_stand_over_the_file_and_are_told_apart() -> None:
    outlet = Outlet.model_validate({"view": {"line_px": 240, "falls": "up"}})
    new, given_here = outlet_with(
        outlet,
        [
            "view.line_px=180",
            "view.region_px=[0, 0, 64, 48]",
            "detector.options.threshold=1e1",
            "part.name=M4x12 screw",
            "motion.kind=belt",
        ],
    )
    assert new.view.line_px == 180.0
    assert new.view.falls is Falls.UP
    assert new.view.region_px == (0, 0, 64, 48)
    assert new.detector.options == {"threshold": 10.0}
    assert given_here == {
        "view.line_px": 180,
        "view.region_px": [0, 0, 64, 48],
        "detector.options.threshold": 10.0,
        "part.name": "M4x12 screw",
        "motion.kind": "belt",
    }
    assert given_keys(outlet) == ("view.falls", "view.line_px")
    assert outlet.view.line_px == 240.0


def test_settings_leave_the_old_options_as_they_are() -> None:
    options = {"threshold": 3, "inner": {"a": 1}}
    outlet = Outlet.model_validate({"detector": {"options": options}})
    new, _ = outlet_with(outlet, ["detector.options.inner.a=2"])
    assert new.detector.options == {"threshold": 3, "inner": {"a": 2}}
    assert outlet.detector.options == {"threshold": 3, "inner": {"a": 1}}


def test_a_setting_below_another_leaves_what_was_given_as_it_is() -> None:
    new, given_here = outlet_with(Outlet(), ["detector.options={a: 1}", "detector.options.b=2"])
    assert new.detector.options == {"a": 1, "b": 2}
    assert given_here == {"detector.options": {"a": 1}, "detector.options.b": 2}


def test_no_settings_change_nothing() -> None:
    outlet = Outlet.model_validate({"beam": {"at_px": 3}, "view": {"falls": "left"}})
    assert outlet_with(outlet, []) == (outlet, {})
    assert given_keys(outlet_with(outlet, [])[0]) == given_keys(outlet)


def test_null_takes_a_setting_back() -> None:
    outlet = Outlet.model_validate({"view": {"line_px": 240}})
    new, given_here = outlet_with(outlet, ["view.line_px=null"])
    assert new.view.line_px is None
    assert given_keys(new) == ()
    assert given_here == {"view.line_px": None}


@pytest.mark.parametrize("section", ["beam", "gate"])
def test_one_of_a_pair_replaces_the_other(section: str) -> None:
    outlet = Outlet.model_validate({section: {"below_lip_mm": 30}})
    new, _ = outlet_with(outlet, [f"{section}.at_px=-4"])
    placed = getattr(new, section)
    assert (placed.at_px, placed.below_lip_mm) == (-4.0, None)
    back, _ = outlet_with(new, [f"{section}.below_lip_mm=30"])
    assert back == outlet
