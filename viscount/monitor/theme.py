"""Colours by what they stand for, dark and light.

The hues are those of Okabe and Ito, "Color Universal Design" (2008), which people with any common
colour blindness tell apart. On the light background the bright ones are darkened, hue kept, until
they stand out by 3 to 1; text stands out by 4.5 to 1 (WCAG 2.2, 1.4.3 and 1.4.11). Nothing is
told by colour alone: every mark has its name, its pattern or its place as well.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from viscount.errors import UsageError

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Colours as ``#rrggbb``, named by role.

    Attributes
    ----------
    background, panel, rule : the window, what stands on it, the lines between.
    text, faint : words, and words that matter less.
    camera, beam : the two counters.
    agree, differ, doubt : what both saw, what only one saw, what is not sure.
    good, bad : a verdict.
    line, lip, region, lamp, blade : marks in the picture; the beam's is `beam`.
    """

    name: str
    background: str
    panel: str
    rule: str
    text: str
    faint: str
    camera: str
    beam: str
    agree: str
    differ: str
    doubt: str
    good: str
    bad: str
    line: str
    lip: str
    region: str
    lamp: str
    blade: str


DARK = Theme(
    name="dark",
    background="#15191e",
    panel="#1e242b",
    rule="#39424d",
    text="#eceff2",
    faint="#a3adb8",
    camera="#56b4e9",
    beam="#e69f00",
    agree="#2bb58b",
    differ="#ea6a1f",
    doubt="#f0e442",
    good="#2bb58b",
    bad="#ea6a1f",
    line="#56b4e9",
    lip="#eceff2",
    region="#a3adb8",
    lamp="#f0e442",
    blade="#cc79a7",
)

LIGHT = Theme(
    name="light",
    background="#f4f5f6",
    panel="#ffffff",
    rule="#c4cbd2",
    text="#1b2127",
    faint="#55606b",
    camera="#0072b2",
    beam="#a87400",
    agree="#00795a",
    differ="#bd4a00",
    doubt="#c2508f",
    good="#00795a",
    bad="#bd4a00",
    line="#0072b2",
    lip="#1b2127",
    region="#55606b",
    lamp="#857b00",
    blade="#a8487f",
)

THEMES = {theme.name: theme for theme in (DARK, LIGHT)}


def theme_named(name: str) -> Theme:
    """Return the theme of this name.

    Raises
    ------
    UsageError : there is none; the names are in it.
    """
    if name not in THEMES:
        raise UsageError(f"no theme is called {name!r}", allowed=" or ".join(THEMES))
    return THEMES[name]


def apply(app: "QApplication", theme: Theme) -> None:
    """Give Qt's controls and pyqtgraph's plots the colours of a theme.

    Call it before a window is made, and again to change the theme.
    """
    import pyqtgraph as pg

    apply_palette(app, theme)
    pg.setConfigOptions(background=theme.background, foreground=theme.text, antialias=True)


def apply_palette(app: "QApplication", theme: Theme) -> None:
    """Give Qt's controls the colours of a theme; for windows without plots, which open sooner."""
    from PySide6.QtGui import QColor, QPalette

    roles = QPalette.ColorRole
    palette = QPalette()
    for role, colour in (
        (roles.Window, theme.background),
        (roles.WindowText, theme.text),
        (roles.Base, theme.panel),
        (roles.AlternateBase, theme.background),
        (roles.Text, theme.text),
        (roles.PlaceholderText, theme.faint),
        (roles.Button, theme.panel),
        (roles.ButtonText, theme.text),
        (roles.BrightText, theme.bad),
        (roles.ToolTipBase, theme.panel),
        (roles.ToolTipText, theme.text),
        (roles.Highlight, theme.camera),
        (roles.HighlightedText, theme.background),
        (roles.Link, theme.camera),
        (roles.Light, theme.rule),
        (roles.Midlight, theme.rule),
        (roles.Mid, theme.rule),
        (roles.Dark, theme.rule),
        (roles.Shadow, theme.background),
    ):
        palette.setColor(role, QColor(colour))
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.faint))
    app.setStyle("Fusion")
    app.setPalette(palette)
