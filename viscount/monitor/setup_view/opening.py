"""Opening the window, and what is left when it is shut."""

import signal
from pathlib import Path
from types import FrameType

from viscount.monitor.application import application
from viscount.monitor.setup.looking import Looker
from viscount.monitor.setup.saving import Target
from viscount.monitor.setup.state import set_up
from viscount.monitor.setup.stills import first_still
from viscount.monitor.theme import Theme
from viscount.outlet import load_outlet

_INTERRUPTED = 130


def draw_outlet(recording: Path, target: Target, theme: Theme, *, title: str) -> bool:
    """Let the user mark an outlet in a recording; return whether a file was written.

    `viscount.monitor.probe.require_window` first.

    Parameters
    ----------
    recording : a clip, a folder of pictures, or a picture file.
    target : where the marks are written, and the outlet file they begin with.

    Raises
    ------
    viscount.errors.ViscountError : the recording or the outlet file cannot be read.
    KeyboardInterrupt : Ctrl-C in the terminal; nothing is written.
    """
    outlet = None if target.base is None else load_outlet(target.base)
    still = first_still(recording)
    height, width = still.pixels.shape
    with Looker(recording) as looker:
        app = application(theme, plots=False)
        from viscount.monitor.setup_view.window import SetUpWindow

        window = SetUpWindow(
            set_up(height, width, outlet), still, target, looker, theme, title=title
        )

        def stop(number: int, frame: FrameType | None) -> None:
            app.exit(_INTERRUPTED)

        before = signal.signal(signal.SIGINT, stop)
        try:
            window.show()
            status = app.exec()
        finally:
            signal.signal(signal.SIGINT, before)
            written = window.written
            window.deleteLater()
    if status == _INTERRUPTED:
        raise KeyboardInterrupt
    return written
