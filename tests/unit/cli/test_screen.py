import io
import os
import sys

import pytest
from rich.table import Table
from rich.text import Text

from viscount.cli.screen import OutputError, can_show, complain, rendered, say, shown


def test_control_characters_are_spelled_out() -> None:
    assert shown("a\x1b[31m\x07b\x9b") == "a\\x1b[31m\\x07b\\x9b"
    assert shown("Größe µm →\nnext") == "Größe µm →\nnext"


class Gone(io.StringIO):
    """A pipe whose reader has gone."""

    def write(self, text: str) -> int:
        raise BrokenPipeError


class Full(io.StringIO):
    """A disk without room."""

    def flush(self) -> None:
        raise OSError(28, "No space left on device")


def test_a_reader_that_has_gone_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", Gone())
    say("text")


def test_a_full_disk_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", Full())
    with pytest.raises(OutputError, match="No space left on device"):
        say("text")


def test_complaints_need_no_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Gone())
    complain("nobody reads this")


def test_what_the_encoding_can_show(monkeypatch: pytest.MonkeyPatch) -> None:
    for encoding, able in (("utf-8", True), ("ascii", False), ("cp1252", False)):
        stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
        monkeypatch.setattr(sys, "stdout", stream)
        assert can_show("█▀▄") is able
        monkeypatch.undo()


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_the_terminal_is_never_overrun(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.get_terminal_size", lambda _: os.terminal_size((columns, 24)))
    table = Table.grid()
    table.add_row("label", "word " * 100)
    lines = rendered(table, Text("x" * 300, overflow="fold")).splitlines()
    assert max(map(len, lines)) <= columns


def test_square_brackets_in_names_are_no_markup() -> None:
    assert rendered("[red]pour[/red] :smile:") == "[red]pour[/red] :smile:\n"
