"""`viscount outlet draw` where no window can be opened: one sentence, exit status 2."""

import pytest

from viscount.cli import drawing, run
from viscount.errors import UsageError


def test_what_is_missing_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(*, plots: bool) -> None:
        raise UsageError("a window needs the library libEGL.so.1", remedy="apt install libegl1")

    monkeypatch.setattr(drawing, "require_window", refuse)
    assert run(["outlet", "draw", "pour.mp4"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "viscount: a window needs the library libEGL.so.1; apt install libegl1\n"


def test_an_unknown_theme_is_named_before_all_else(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["outlet", "draw", "pour.mp4", "--theme", "grey"]) == 2
    assert "no theme is called 'grey'; allowed: dark or light" in capsys.readouterr().err
