"""What the house tests judge: the files that git holds in this clone."""

import ast
import subprocess
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def root() -> Path:
    return Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def files(root: Path) -> list[Path]:
    """Every file that git holds, as a path from the top."""
    listed = subprocess.run(
        ["git", "-c", "safe.directory=*", "-C", str(root), "ls-files", "-z"],
        check=True,
        capture_output=True,
    )
    names = listed.stdout.decode("utf-8").rstrip("\0").split("\0")
    found = [Path(name) for name in names if (root / name).is_file()]
    assert Path("pyproject.toml") in found, "the house tests judge a git clone of the project"
    return found


@pytest.fixture(scope="session")
def texts(root: Path, files: list[Path]) -> dict[Path, str]:
    """Every file that is text, with its text."""
    found = {}
    for path in files:
        raw = (root / path).read_bytes()
        if b"\0" not in raw:
            found[path] = raw.decode("utf-8")
    return found


@pytest.fixture(scope="session")
def trees(texts: dict[Path, str]) -> dict[Path, ast.Module]:
    """Every Python file of the package and the plugins, parsed."""
    return {
        path: ast.parse(text, filename=str(path))
        for path, text in texts.items()
        if path.suffix == ".py" and path.parts[0] in ("viscount", "plugins")
    }
