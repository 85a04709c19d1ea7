"""Opens a monitor's window; Qt is imported only here and below."""

from collections.abc import Callable

from viscount.monitor.model.facts import Facts
from viscount.monitor.model.monitor import Monitor, Picture
from viscount.monitor.model.playback import Playback
from viscount.monitor.theme import theme_named
from viscount.session.observer import ObserverEnd

Feed = Callable[[], None]


def watch(facts: Facts, theme: str, end: ObserverEnd) -> None:
    """Show a live run until the window is closed; an observer's main, in its own process."""
    model = Monitor(facts)
    _shown(model, theme, feed_from(model, end))


def feed_from(model: Monitor, end: ObserverEnd) -> Feed:
    """Return what brings a model all that a run has told since it was last asked."""

    def feed() -> None:
        if model.over and end.ended:
            return
        pictures = end.pictures()
        for value in end.values():
            model.miss(end.missed)
            model.take(value)
        model.saw(
            Picture(index=one.index, t_s=1e-9 * one.t_ns, pixels=one.pixels, shrunk=one.shrunk)
            for one in pictures
        )
        model.miss(end.missed)
        if end.ended:
            model.lost()

    return feed


def play(model: Playback, theme: str) -> None:
    """Show a recording until the window is closed."""
    _shown(model, theme, lambda: None)


def _shown(model: Monitor, theme: str, feed: Feed) -> None:
    from viscount.monitor.application import application
    from viscount.monitor.window.monitor_window import MonitorWindow

    colours = theme_named(theme)
    app = application(colours)
    window = MonitorWindow(model, colours, feed=feed)
    window.show()
    app.exec()
    window.deleteLater()
