import json
from pathlib import Path

import pytest
from commands import FIXTURES, call

from viscount.outlet import Outlet, Part, json_schema, load_outlet, outlet_template


def test_new_prints_the_template() -> None:
    answer = call("outlet", "new")
    assert (answer.status, answer.out, answer.err) == (0, outlet_template(), "")


def test_new_writes_a_file_that_checks(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    answer = call("outlet", "new", file)
    assert answer.status == 0
    assert f"viscount outlet check {file}" in answer.out
    assert file.read_text(encoding="utf-8") == outlet_template()
    assert load_outlet(file) == Outlet()
    assert "0 keys are set" in call("outlet", "check", file).out


def test_new_writes_over_nothing_unless_forced(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("view: {line_px: 3}\n", encoding="utf-8")
    refused = call("outlet", "new", file)
    assert (refused.status, refused.out) == (2, "")
    assert "there already" in refused.err
    assert "--force" in refused.err
    assert file.read_text(encoding="utf-8") == "view: {line_px: 3}\n"
    assert call("outlet", "new", file, "--force").status == 0
    assert file.read_text(encoding="utf-8") == outlet_template()


def test_new_needs_a_folder_that_exists(tmp_path: Path) -> None:
    answer = call("outlet", "new", tmp_path / "none" / "outlet.yaml")
    assert answer.status == 2
    assert answer.err.count("\n") == 1
    assert "a folder that exists" in answer.err


def test_check_tells_what_is_set_with_units_and_what_is_open() -> None:
    lines = call("outlet", "check", FIXTURES / "washers" / "outlet.yaml").out.splitlines()
    given, open_ = (
        lines[1 : lines.index("left to defaults, or learned from the recording:")],
        lines[lines.index("left to defaults, or learned from the recording:") + 1 :],
    )
    assert lines[0].endswith(f"a valid outlet file; {len(given)} keys are set")
    assert "view.falls = right" in given
    assert any(
        line.startswith("view.scale_px_per_mm = ") and line.endswith(" px/mm") for line in given
    )
    assert "view.region_px" in open_
    assert "motion.kind" not in open_
    # The beam's height is given in mm; the other way of giving it is not open any more.
    assert "beam.at_px" not in open_
    assert "gate.at_px" in open_


def test_check_on_a_terminal(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("view: {region_px: [1, 2, 30, 40]}\npart: {name: '[x]'}\n", encoding="utf-8")
    answer = call("outlet", "check", file, on_terminal=True)
    assert answer.status == 0
    assert "[1, 2, 30, 40]" in answer.out
    assert "[x]" in answer.out


@pytest.mark.parametrize(("words", "model"), [((), Outlet), (("--part",), Part)])
def test_schema(words: tuple[str, ...], model: type[Outlet] | type[Part]) -> None:
    answer = call("outlet", "schema", *words)
    assert json.loads(answer.out) == json_schema(model)
