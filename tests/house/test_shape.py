"""The shape of the house: where files stand, how long they are, what they may import."""

import ast
from pathlib import Path

import pytest

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "LICENSE",
    "pyproject.toml",
    "constraints.txt",
    "viscount",
    "plugins",
    "tests",
    "fixtures",
}
VAGUE = {"util", "utils", "helper", "helpers", "manager", "managers", "common", "misc"}
LOCKS = {"uv.lock", "poetry.lock", "pdm.lock", "pylock.toml", "Pipfile.lock", "conda-lock.yml"}
POSIX_ONLY = {"fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty"}
LONGEST = 400


def imported(tree: ast.AST) -> set[str]:
    """Every module that a file imports, by its full name."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names.add(node.module)
    return names


def test_top_level_holds_only_what_is_listed(files: list[Path]) -> None:
    found = {path.parts[0] for path in files}
    assert {name for name in found if not name.startswith(".")} <= TOP_LEVEL


def test_no_lock_files(files: list[Path]) -> None:
    assert not [path for path in files if path.name in LOCKS]


def test_files_stay_short(texts: dict[Path, str], trees: dict[Path, ast.Module]) -> None:
    lengths = {str(path): len(texts[path].splitlines()) for path in trees}
    assert lengths
    assert not {path: n for path, n in lengths.items() if n >= LONGEST}


def test_names_say_what_is_inside(files: list[Path]) -> None:
    assert not [path for path in files if VAGUE & {part.split(".")[0] for part in path.parts}]


def takes_from_front_door(tree: ast.AST, modules: set[str]) -> bool:
    """Whether a file imports `viscount` itself, or a name from it that is no module."""
    for node in ast.walk(tree):
        match node:
            case ast.Import(names=names) if "viscount" in {alias.name for alias in names}:
                return True
            case ast.ImportFrom(module="viscount", names=names) if {
                alias.name for alias in names
            } - modules:
                return True
    return False


def test_package_never_imports_its_own_front_door(trees: dict[Path, ast.Module]) -> None:
    inside = {path: tree for path, tree in trees.items() if path.parts[0] == "viscount"}
    modules = {path.parts[1].removesuffix(".py") for path in inside}
    assert not [path for path, tree in inside.items() if takes_from_front_door(tree, modules)]


@pytest.mark.parametrize(
    ("line", "front_door"),
    [
        ("import viscount", True),
        ("from viscount import load_outlet", True),
        ("from viscount import fall", False),
        ("import viscount.fall", False),
    ],
)
def test_front_door_is_told_from_the_rooms(line: str, front_door: bool) -> None:
    assert takes_from_front_door(ast.parse(line), {"fall"}) is front_door


def test_posix_only_modules_stay_with_the_devices(trees: dict[Path, ast.Module]) -> None:
    for path, tree in trees.items():
        if path.parts[:2] != ("viscount", "devices"):
            assert not POSIX_ONLY & imported(tree), path


def opens_text_without_encoding(call: ast.Call) -> bool:
    """Whether a call opens, reads or writes text in whatever encoding the machine has."""
    named = {keyword.arg for keyword in call.keywords}
    texts = [a.value for a in call.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    match call.func:
        case ast.Name(id="open"):
            mode = texts[-1] if len(call.args) > 1 and texts else "r"
        case ast.Attribute(attr="open", value=ast.Name(id="av")):
            return False
        case ast.Attribute(attr="open", value=owner) if not isinstance(owner, ast.Name):
            mode = texts[0] if texts else "r"
        case ast.Attribute(attr="open") if not call.args or (
            texts and set(texts[0]) <= set("rwaxbt+")
        ):
            mode = texts[0] if texts else "r"
        case ast.Attribute(attr="read_text"):
            return "encoding" not in named and not call.args
        case ast.Attribute(attr="write_text"):
            return "encoding" not in named and len(call.args) < 2
        case _:
            return False
    return "b" not in mode and "encoding" not in named


def test_text_is_opened_with_an_encoding(texts: dict[Path, str]) -> None:
    found = [
        f"{path}:{node.lineno}"
        for path, text in texts.items()
        if path.suffix == ".py"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and opens_text_without_encoding(node)
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("call", "bare"),
    [
        ("open(p)", True),
        ("open(p, 'w')", True),
        ("open(p, 'rb')", False),
        ("open(p, encoding='utf-8')", False),
        ("p.open()", True),
        ("p.open('w')", True),
        ("(a / b).open('wb')", False),
        ("av.open(p)", False),
        ("av.open(p, 'r')", False),
        ("Path(p).read_text()", True),
        ("p.read_text('utf-8')", False),
        ("p.write_text(t)", True),
        ("p.write_text(t, encoding='utf-8')", False),
    ],
)
def test_calls_without_encoding_are_told_from_the_rest(call: str, bare: bool) -> None:
    expression = ast.parse(call, mode="eval").body
    assert isinstance(expression, ast.Call)
    assert opens_text_without_encoding(expression) is bare
