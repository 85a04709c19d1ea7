"""Can a window be opened here? Tried in a process of its own, because Qt ends those that ask.

Where no platform plugin can be loaded Qt calls ``abort``, which no ``except`` catches. So a child
tries first, and what it says on its way out is put into one sentence.
"""

import ctypes
import os
import re
import subprocess
import sys
from collections.abc import Mapping

from viscount.errors import UsageError

EXTRA = "pip install 'viscount[monitor]'"
_ELSEWHERE = "every command that opens no window works as it is"
_LONGEST_S = 60.0

_TRY = """\
import sys
try:
    import PySide6.QtCore, PySide6.QtGui, PySide6.QtWidgets
    if "plots" in sys.argv:
        import pyqtgraph
except ImportError as error:
    sys.stdout.write(f"{error.name or ''}|{error}")
    sys.exit(3)
PySide6.QtWidgets.QApplication(["viscount"])
"""

PACKAGES: Mapping[str, str] = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libOpenGL.so.0": "libopengl0",
    "libX11.so.6": "libx11-6",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libSM.so.6": "libsm6",
    "libICE.so.6": "libice6",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgssapi_krb5.so.2": "libgssapi-krb5-2",
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
    "libwayland-egl.so.1": "libwayland-egl1",
    "libxcb.so.1": "libxcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}
"""Which package of Debian and Ubuntu holds a library that Qt loads."""

_OF_X11 = (
    *("libX11-xcb.so.1", "libxcb-cursor.so.0", "libxcb-icccm.so.4", "libxcb-image.so.0"),
    *("libxcb-keysyms.so.1", "libxcb-randr.so.0", "libxcb-render.so.0", "libxcb-render-util.so.0"),
    *("libxcb-shape.so.0", "libxcb-shm.so.0", "libxcb-sync.so.1", "libxcb-util.so.1"),
    *("libxcb-xfixes.so.0", "libxcb-xkb.so.1", "libxkbcommon-x11.so.0"),
)
"""What Qt's plugin for X11 loads; where one of them is missing, others mostly are, too."""

_MISSING = re.compile(r"\b(lib[\w.+-]+\.so[.\d]*): cannot open shared object file")
_CURSOR = "libxcb-cursor0 is needed"


def require_window(environment: Mapping[str, str] | None = None, *, plots: bool = True) -> None:
    """Make sure that a window can be opened; costs about half a second.

    Parameters
    ----------
    environment : what the child gets instead of this process's own environment.
    plots : pyqtgraph is needed as well.

    Raises
    ------
    UsageError : naming what is missing, and what to install or to set.
    """
    asked = dict(os.environ if environment is None else environment)
    asked = without_borrowed_plugins(asked)
    try:
        ended = _tried({**asked, "QT_DEBUG_PLUGINS": "1"}, plots=plots)
    except subprocess.TimeoutExpired:
        raise UsageError(
            f"no window could be opened within {_LONGEST_S:g} s",
            remedy=f"look whether the display answers; {_ELSEWHERE}",
        ) from None
    if ended.returncode:
        raise refusal(ended.returncode, ended.stdout, ended.stderr, asked)


def without_borrowed_plugins(environment: Mapping[str, str]) -> dict[str, str]:
    """Return an environment without the plugin folder of another library's Qt.

    The opencv-python wheel that is not headless points Qt at its own plugins as it is imported;
    those are built for another Qt, and PySide6 would end trying to load them.
    """
    borrowed = os.sep + "cv2" + os.sep + "qt"
    names = ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR")
    return {k: v for k, v in environment.items() if not (k in names and borrowed in v)}


def refusal(returncode: int, said: str, warned: str, environment: Mapping[str, str]) -> UsageError:
    """Return why no window can be opened, from how the child ended.

    Parameters
    ----------
    returncode : of the child; negative where a signal ended it.
    said : its standard output, ``module|text`` of an import that failed.
    warned : its standard error, with Qt's own account of its plugins.
    environment : what the child was given.
    """
    module, _, text = said.partition("|")
    missing = _missing(text) or ("" if text else _missing(warned))
    if text and not missing and module.split(".")[0] in ("PySide6", "pyqtgraph", "shiboken6"):
        return UsageError(
            f"a window needs {module.split('.')[0]}, which is not installed",
            remedy=f"install it with {EXTRA}; {_ELSEWHERE}",
        )
    if text and not missing:
        return UsageError(
            f"a window needs Qt, which cannot be imported ({_one_line(text)})",
            remedy=f"install it anew with {EXTRA}; {_ELSEWHERE}",
        )
    if not text and _without_display(environment):
        return UsageError(
            "a window needs a display, and neither DISPLAY nor WAYLAND_DISPLAY is set",
            remedy=f"run it in a desktop, or set QT_QPA_PLATFORM=vnc; {_ELSEWHERE}",
        )
    if missing:
        return _without_libraries([missing, *_others(missing)])
    asked = environment.get("QT_QPA_PLATFORM")
    how = f"signal {-returncode}" if returncode < 0 else f"status {returncode}"
    return UsageError(
        f"no window can be opened: Qt ended with {how} ({_last_line(warned)})",
        remedy=(
            f"QT_QPA_PLATFORM is {asked!r}: unset it, or correct it; {_ELSEWHERE}"
            if asked
            else f"look whether the display answers, or set QT_QPA_PLATFORM; {_ELSEWHERE}"
        ),
    )


def _tried(environment: Mapping[str, str], *, plots: bool) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _TRY, *(["plots"] if plots else [])],
        env=dict(environment),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        timeout=_LONGEST_S,
        check=False,
    )


def _missing(text: str) -> str:
    """Return the library that could not be opened; of several, one of X11 before Wayland's."""
    found = list(dict.fromkeys(_MISSING.findall(text)))
    if not found and _CURSOR in text:
        found = ["libxcb-cursor.so.0"]
    ranked = sorted(found, key=lambda name: (name not in PACKAGES, "wayland" in name))
    return ranked[0] if ranked else ""


def _without_libraries(names: list[str]) -> UsageError:
    """Return the refusal for want of libraries, with the packages that hold them."""
    packages = [PACKAGES[name] for name in names if name in PACKAGES]
    what, are = ("library", "is") if len(names) == 1 else ("libraries", "are")
    remedy = f"on Debian and Ubuntu: apt install {' '.join(packages)}"
    if not packages:
        remedy = f"install the package of your system that holds {names[0]}"
    return UsageError(
        f"a window needs the {what} {', '.join(names)}, which {are} not installed",
        remedy=f"{remedy}; {_ELSEWHERE}",
    )


def _others(library: str) -> list[str]:
    """Return what else of X11's is missing, where this is: Qt tells of the first one alone."""
    if library not in _OF_X11:
        return []
    return [name for name in _OF_X11 if name != library and not _loads(name)]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _without_display(environment: Mapping[str, str]) -> bool:
    """Whether Qt was to use a display of X11 or Wayland, and neither is named."""
    if not sys.platform.startswith("linux"):
        return False
    platform = environment.get("QT_QPA_PLATFORM", "").split(":")[0]
    shown = environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY")
    return platform in ("", "xcb", "wayland") and not shown


def _one_line(text: str) -> str:
    return " ".join(text.split())[:200]


def _last_line(warned: str) -> str:
    """Return the last thing that is no account of a plugin."""
    lines = [line.strip() for line in warned.splitlines()]
    told = [
        line
        for line in lines
        if line and line[0] not in '{}"' and not line.startswith(("qt.core.", "Available"))
    ]
    return _one_line(told[-1]) if told else "it said nothing"
