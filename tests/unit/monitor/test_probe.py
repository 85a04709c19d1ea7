"""Whether a window can be opened is asked of a child, with a Qt of our own making."""

import os
import signal
from pathlib import Path

import pytest

from viscount.errors import ExitStatus, UsageError
from viscount.monitor import probe
from viscount.monitor.probe import PACKAGES, refusal, require_window, without_borrowed_plugins

HIDDEN = "{}: cannot open shared object file: No such file or directory"
WORKING = {
    "PySide6/__init__.py": "",
    "PySide6/QtCore.py": "",
    "PySide6/QtGui.py": "",
    "PySide6/QtWidgets.py": "QApplication = list\n",
    "pyqtgraph.py": "",
}


def environment(folder: Path, files: dict[str, str], **more: str) -> dict[str, str]:
    """An environment in which these modules stand before any that are installed."""
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("QT_", "DISPLAY", "WAYLAND"))}
    return {**kept, "PYTHONPATH": str(folder), **more}


def sentence(asked: dict[str, str]) -> str:
    with pytest.raises(UsageError) as caught:
        require_window(asked)
    assert caught.value.exit_status is ExitStatus.BAD_INPUT
    text = str(caught.value)
    assert "\n" not in text
    assert "every command that opens no window works as it is" in text
    return text


def test_says_nothing_where_a_window_opens(tmp_path: Path) -> None:
    require_window(environment(tmp_path, WORKING, QT_QPA_PLATFORM="offscreen"))


@pytest.mark.parametrize(
    ("library", "package"),
    [
        ("libEGL.so.1", "libegl1"),
        ("libGL.so.1", "libgl1"),
        ("libxkbcommon.so.0", "libxkbcommon0"),
        ("libdbus-1.so.3", "libdbus-1-3"),
        ("libfontconfig.so.1", "libfontconfig1"),
    ],
)
def test_names_the_package_of_a_library_that_an_import_misses(
    library: str, package: str, tmp_path: Path
) -> None:
    hidden = f"raise ImportError({HIDDEN.format(library)!r})"
    text = sentence(environment(tmp_path, {**WORKING, "PySide6/QtGui.py": hidden}))
    assert f"the library {library}, which is not installed" in text
    assert f"apt install {package};" in text


@pytest.mark.parametrize("library", ["libxcb-cursor.so.0", "libxkbcommon-x11.so.0"])
def test_names_the_package_of_a_library_that_a_plugin_misses(
    library: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Qt aborts, and tells of the library only where its plugins are traced."""
    monkeypatch.setattr(probe, "_loads", lambda name: True)
    dying = (
        "import os, sys\n"
        "def QApplication(arguments):\n"
        "    if os.environ['QT_DEBUG_PLUGINS'] == '1':\n"
        f"        print('cannot load libqxcb.so: {HIDDEN.format(library)}', file=sys.stderr)\n"
        "    os.abort()\n"
    )
    files = {**WORKING, "PySide6/QtWidgets.py": dying}
    text = sentence(environment(tmp_path, files, DISPLAY=":0"))
    assert f"apt install {PACKAGES[library]};" in text


def test_names_all_of_x11_that_is_missing_where_qt_names_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(probe, "_loads", lambda name: name != "libxcb-shm.so.0")
    said = HIDDEN.format("libxcb-icccm.so.4")
    found = refusal(-signal.SIGABRT, "", said, {"DISPLAY": ":0"})
    assert "libraries libxcb-icccm.so.4, libxcb-shm.so.0, which are not installed" in str(found)
    assert "apt install libxcb-icccm4 libxcb-shm0;" in str(found)


def test_takes_qt_s_own_word_for_the_cursor_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(probe, "_loads", lambda name: True)
    said = "From 6.5.0, xcb-cursor0 or libxcb-cursor0 is needed to load the Qt xcb platform plugin."
    found = refusal(-signal.SIGABRT, "", said, {"DISPLAY": ":0"})
    assert "apt install libxcb-cursor0;" in str(found)


def test_an_unknown_library_is_named_without_a_package() -> None:
    found = refusal(3, "|" + HIDDEN.format("libodd.so.7"), "", {})
    assert "install the package of your system that holds libodd.so.7" in str(found)


@pytest.mark.parametrize("module", ["PySide6", "pyqtgraph"])
def test_names_the_extra_where_a_module_is_missing(module: str, tmp_path: Path) -> None:
    missing = f"raise ModuleNotFoundError('No module named {module}', name={module!r})"
    text = sentence(environment(tmp_path, {**WORKING, "pyqtgraph.py": missing}))
    assert f"needs {module}, which is not installed" in text
    assert "pip install 'viscount[monitor]'" in text


def test_an_import_that_fails_otherwise_is_quoted(tmp_path: Path) -> None:
    broken = "raise ImportError('numpy is of another time')"
    text = sentence(environment(tmp_path, {**WORKING, "pyqtgraph.py": broken}))
    assert "cannot be imported (numpy is of another time)" in text


@pytest.mark.skipif("sys.platform != 'linux'", reason="only there is a display named by variables")
@pytest.mark.parametrize("platform", [None, "xcb", "wayland"])
def test_says_that_there_is_no_display(platform: str | None, tmp_path: Path) -> None:
    dying = "import os\ndef QApplication(arguments): os.abort()\n"
    asked = environment(tmp_path, {**WORKING, "PySide6/QtWidgets.py": dying})
    text = sentence(asked if platform is None else {**asked, "QT_QPA_PLATFORM": platform})
    assert "neither DISPLAY nor WAYLAND_DISPLAY is set" in text
    assert "QT_QPA_PLATFORM" in text


def test_a_death_without_a_known_cause_is_told_with_signal_and_setting(tmp_path: Path) -> None:
    dying = (
        "import os, sys\n"
        "def QApplication(arguments):\n"
        "    print('no platform plugin could be initialized', file=sys.stderr, flush=True)\n"
        "    os.abort()\n"
    )
    files = {**WORKING, "PySide6/QtWidgets.py": dying}
    text = sentence(environment(tmp_path, files, QT_QPA_PLATFORM="odd"))
    assert f"signal {int(signal.SIGABRT)} (no platform plugin could be initialized)" in text
    assert "QT_QPA_PLATFORM is 'odd'" in text


def test_plugins_of_another_library_s_qt_are_left_out() -> None:
    borrowed = os.path.join("lib", "cv2", "qt", "plugins")  # noqa: PTH118
    kept = without_borrowed_plugins(
        {"QT_QPA_PLATFORM_PLUGIN_PATH": borrowed, "QT_QPA_FONTDIR": "/own/fonts", "A": borrowed}
    )
    assert kept == {"QT_QPA_FONTDIR": "/own/fonts", "A": borrowed}


def test_a_window_without_plots_needs_no_pyqtgraph(tmp_path: Path) -> None:
    broken = {**WORKING, "pyqtgraph.py": "raise ImportError('not here')"}
    require_window(environment(tmp_path, broken), plots=False)
