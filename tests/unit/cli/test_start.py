"""The program's start: quick, with its help, versions and logs."""

import logging
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest
from commands import FIXTURES, call
from tallies import tally

import viscount

# Neither pydantic nor rich is among them: some versions of typer load them by themselves.
HEAVY = (
    "numpy",
    "scipy",
    "skimage",
    "cv2",
    "av",
    "yaml",
    "pluggy",
    "viscount.offline",
    "viscount.hooks",
    "viscount.simulate",
)


@pytest.mark.parametrize(
    "words", [["--help"], ["count", "--help"], ["--version"], ["plugins", "-h"]]
)
def test_nothing_heavy_is_loaded_before_a_command_runs(words: list[str]) -> None:
    script = (
        "import sys\n"
        "from viscount.cli import run\n"
        f"status = run({words!r})\n"
        "print('LOADED', *sorted(sys.modules))\n"
        "sys.exit(status)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
    )
    loaded = set(done.stdout.rpartition("LOADED")[2].split())
    assert "viscount.cli.count" in loaded
    assert loaded.isdisjoint(HEAVY)


def test_help_lists_the_commands_and_the_statuses() -> None:
    answer = call("--help")
    assert answer.status == 0
    for word in ("count", "demo", "outlet", "plugins", "130 interrupted"):
        assert word in answer.out


def test_help_fits_80_columns() -> None:
    for words in ((), ("count",), ("demo",), ("outlet", "new"), ("plugins", "check")):
        answer = call(*words, "--help")
        assert max(map(len, answer.out.splitlines())) <= 80


def test_versions_of_what_the_distribution_requires() -> None:
    lines = dict(line.split(" ", 1) for line in call("--version").out.splitlines())
    assert lines["viscount"] == viscount.__version__
    assert lines["python"] == ".".join(map(str, sys.version_info[:3]))
    for name in ("numpy", "scipy", "av", "pydantic", "typer", "rich", "pyyaml"):
        assert lines[name] == metadata.version(name)
    # What only an extra asks for is none of it.
    assert "matplotlib" not in lines


def test_log_goes_to_standard_error_only_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("viscount.cli.counting.offline_count", lambda *_, **__: tally())
    clip = FIXTURES / "screws" / "clip.mp4"
    assert call("count", clip, "--json").err == ""
    told = call("-v", "count", clip, "--json")
    assert "INFO    viscount.cli: counting" in told.err
    assert "DEBUG" not in told.err
    assert told.out.startswith("{")
    details = call("-vv", "count", clip, "--json")
    assert "DEBUG   viscount.cli: called as" in details.err


def test_log_file_holds_every_detail_and_is_closed(tmp_path: Path) -> None:
    file = tmp_path / "log.txt"
    answer = call("--log", file, "count", tmp_path / "none.mp4")
    assert (answer.status, answer.err.count("\n")) == (2, 1)
    text = file.read_text(encoding="utf-8")
    assert "viscount.cli: raised as follows" in text
    assert "SourceError: " in text


def test_no_handler_outlives_its_command() -> None:
    logger = logging.getLogger("viscount")
    before = (logger.handlers[:], logger.level)
    call("-v", "plugins", "--json")
    assert (logger.handlers, logger.level) == before
