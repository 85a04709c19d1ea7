"""The documents tell the truth: commands, statuses, files, versions and examples exist."""

import re
import tomllib
from pathlib import Path

import pytest
import typer.main
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from viscount._version import __version__
from viscount.cli import app
from viscount.errors import ExitStatus
from viscount.outlet import load_outlet

README = Path("README.md")
DEVELOPERS = Path("DEVELOPERS.md")


def pins(text: str) -> dict[str, Version]:
    """The versions that a constraints file pins, by canonical name."""
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {canonicalize_name(n): Version(v) for n, v in (line.split("==") for line in lines)}


@pytest.fixture(scope="module")
def project(root: Path) -> dict:
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture(scope="module")
def required(project: dict) -> list[Requirement]:
    """What the package and its tested extras ask for, one floor each."""
    extras = project["optional-dependencies"]
    tested = [*extras["test"], *extras["bench"], *extras["serial"], *extras["report"]]
    lines = [line for line in tested if not line.startswith("viscount[")]
    return [Requirement(line) for line in [*project["dependencies"], *lines]]


def test_readme_lists_the_commands_that_exist(texts: dict[Path, str]) -> None:
    listed = set(re.findall(r"^\| `viscount ([a-z]+)", texts[README], re.MULTILINE))
    shown = set(re.findall(r"\bviscount ([a-z]+)\b(?! is| does| can)", fenced(texts[README])))
    exist = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    assert listed == exist
    assert shown - exist == set()


def fenced(text: str) -> str:
    """All code blocks of a page."""
    return "\n".join(re.findall(r"^```[a-z]*\n(.*?)^```$", text, re.MULTILINE | re.DOTALL))


def test_readme_lists_every_exit_status(texts: dict[Path, str]) -> None:
    rows = {int(n) for n in re.findall(r"^\| (\d+) \|", texts[README], re.MULTILINE)}
    assert rows == {1, *ExitStatus}


def test_outlet_file_of_the_readme_is_valid(texts: dict[Path, str], tmp_path: Path) -> None:
    (example,) = re.findall(r"^```yaml\n(.*?)^```$", texts[README], re.MULTILINE | re.DOTALL)
    path = tmp_path / "outlet.yaml"
    path.write_text(example, encoding="utf-8")
    load_outlet(path)


@pytest.mark.parametrize("name", ["demo", "tests"])
def test_readme_line_is_one_line(name: str, texts: dict[Path, str]) -> None:
    block = rf"^<!-- line: {name} -->\n```sh\n[^\n]+\n```$"
    assert len(re.findall(block, texts[README], re.MULTILINE)) == 1


@pytest.mark.parametrize("page", [README, DEVELOPERS, Path("CHANGELOG.md")])
def test_links_lead_to_files_of_the_project(
    page: Path, files: list[Path], texts: dict[Path, str]
) -> None:
    targets = re.findall(r"\]\(([^)]+)\)|src=\"([^\"]+)\"", texts[page])
    for target in (link or source for link, source in targets):
        path, _, heading = target.partition("#")
        if path:
            known = {str(held) for held in files} | {str(p) for f in files for p in f.parents}
            assert path.rstrip("/") in known, f"{page}: {target}"
        if heading:
            headings = re.findall(r"^#+ (.+)$", texts[Path(path) if path else page], re.MULTILINE)
            anchors = {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in headings}
            assert heading in anchors, f"{page}: {target}"


def test_map_names_every_room(files: list[Path], texts: dict[Path, str]) -> None:
    inside = {path.parts[1] for path in files if path.parts[0] == "viscount"}
    rooms = {name for name in inside if not name.startswith("_") and name != "py.typed"}
    named = set(re.findall(r"^\| `([a-z_]+(?:\.py|/))` \|", texts[DEVELOPERS], re.MULTILINE))
    assert {room if room.endswith(".py") else f"{room}/" for room in rooms} == named


def test_letters_of_the_drawing_stand_in_the_text(texts: dict[Path, str]) -> None:
    drawing = texts[Path("fixtures/pictures/setup.svg")]
    drawn = set(re.findall(r"<text [^>]*>([a-z])</text>", drawing))
    told = set(re.findall(r"^- \*\*\(([a-z])\)", texts[README], re.MULTILINE))
    assert drawn == told == set("abcdefgh")


def test_changelog_begins_with_this_version(texts: dict[Path, str]) -> None:
    heading = re.search(
        r"^## (\S+) \(\d{4}-\d\d-\d\d\)$", texts[Path("CHANGELOG.md")], re.MULTILINE
    )
    assert heading is not None
    assert heading[1] == __version__


def test_lowest_pins_are_the_floors(required: list[Requirement], texts: dict[Path, str]) -> None:
    lowest = pins(texts[Path(".ci/lowest.txt")])
    for requirement in required:
        name = canonicalize_name(requirement.name)
        floors = [Version(s.version) for s in requirement.specifier if s.operator == ">="]
        assert len(floors) == 1, requirement
        assert lowest[name].release[:2] == (*floors[0].release, 0)[:2], requirement
        assert requirement.specifier.contains(lowest[name]), requirement


def test_tested_pins_cover_what_is_required(
    required: list[Requirement], project: dict, texts: dict[Path, str]
) -> None:
    tested = pins(texts[Path("constraints.txt")])
    lint = [Requirement(line) for line in project["optional-dependencies"]["lint"]]
    for requirement in [*required, *lint]:
        version = tested[canonicalize_name(requirement.name)]
        assert requirement.specifier.contains(version), requirement
