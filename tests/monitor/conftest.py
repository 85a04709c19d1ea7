"""Windows without a screen. A warning of Qt fails the test in which it is said."""

import os
from collections.abc import Iterator

import pytest

os.environ["QT_QPA_PLATFORM"] = "offscreen"

# What the offscreen platform says of itself, and what is no fault of a window.
IGNORED = ("This plugin does not support",)


@pytest.fixture(autouse=True)
def qt_says_nothing() -> Iterator[list[str]]:
    """Fail the test in which Qt warns; yields what was said so far."""
    from PySide6.QtCore import QtMsgType, qInstallMessageHandler

    said: list[str] = []

    def hear(kind: QtMsgType, context: object, text: str) -> None:
        grave = kind not in (QtMsgType.QtDebugMsg, QtMsgType.QtInfoMsg)
        if grave and not text.startswith(IGNORED):
            said.append(f"{kind.name}: {text}")

    before = qInstallMessageHandler(hear)
    yield said
    qInstallMessageHandler(before)
    assert not said, "Qt said:\n" + "\n".join(said)
