"""The Qt application that all windows share."""

import os
from typing import TYPE_CHECKING

from viscount.monitor.probe import without_borrowed_plugins
from viscount.monitor.theme import Theme, apply, apply_palette

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication


def application(theme: Theme, *, plots: bool = True) -> "QApplication":
    """Return the process's application, made if there is none yet, in the colours of a theme.

    Without `plots` pyqtgraph is left alone, and the window opens sooner.

    `viscount.monitor.probe.require_window` first: where no window can be opened Qt ends the
    process.
    """
    from PySide6.QtWidgets import QApplication

    # Set by an opencv-python that is not headless, as it was imported.
    kept = without_borrowed_plugins(os.environ)
    for name in set(os.environ) - set(kept):
        del os.environ[name]
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(["viscount"])
    app.setApplicationName("viscount")
    (apply if plots else apply_palette)(app, theme)
    return app
