"""Colours stand out from what they stand on, and from each other, for everybody's eyes."""

from dataclasses import asdict
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import rgb2lab

from viscount.errors import UsageError
from viscount.monitor.theme import DARK, LIGHT, THEMES, Theme, theme_named

WORDS = ("text", "faint")
GROUNDS = ("background", "panel")
FIGURES = (
    *("camera", "beam", "agree", "differ", "doubt", "good", "bad"),
    *("line", "lip", "region", "lamp", "blade"),
)
# What full loss of one kind of cone leaves of linear RGB: Machado, Oliveira and Fernandes, "A
# Physiologically-based Model for Simulation of Color Vision Deficiency" (2009), severity 1.
BLINDNESS = {
    "none": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}


def linear(colour: str) -> NDArray[np.float64]:
    """Linear RGB of ``#rrggbb``, by sRGB (IEC 61966-2-1), as WCAG 2.2 uses it."""
    part = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """The contrast ratio of WCAG 2.2 ("contrast ratio" and "relative luminance")."""
    low, high = sorted(float(linear(c) @ (0.2126, 0.7152, 0.0722)) for c in (one, other))
    return (high + 0.05) / (low + 0.05)


def seen(colour: str, kind: str) -> NDArray[np.float64]:
    """CIELAB of a colour as somebody with a colour blindness sees it."""
    left = np.clip(BLINDNESS[kind] @ linear(colour), 0, 1)
    shown = np.where(left <= 0.0031308, left * 12.92, 1.055 * left ** (1 / 2.4) - 0.055)
    return rgb2lab(shown.reshape(1, 1, 3)).ravel()


def test_contrast_is_that_of_the_printed_extremes() -> None:
    """Black on white is 21:1, and #767676 on white just passes 4.5 (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
@pytest.mark.parametrize("ground", GROUNDS)
def test_words_and_figures_stand_out(ground: str, theme: Theme) -> None:
    colours = asdict(theme)
    for role in WORDS:
        assert contrast(colours[role], colours[ground]) >= 4.5, role
    for role in FIGURES:
        assert contrast(colours[role], colours[ground]) >= 3, role


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
@pytest.mark.parametrize("kind", BLINDNESS)
def test_what_must_not_be_mistaken_is_told_apart(kind: str, theme: Theme) -> None:
    colours = asdict(theme)
    groups = [("camera", "beam"), ("agree", "differ", "doubt"), ("good", "bad")]
    for group in groups:
        for one, other in combinations(group, 2):
            away = np.linalg.norm(seen(colours[one], kind) - seen(colours[other], kind))
            assert away >= 15, (one, other)


def test_every_colour_has_a_role_in_these_tests() -> None:
    assert {*WORDS, *GROUNDS, *FIGURES, "rule", "name"} == set(Theme.__dataclass_fields__)


def test_themes_are_found_by_name() -> None:
    assert theme_named("dark") is DARK
    assert theme_named("light") is LIGHT
    with pytest.raises(UsageError, match="no theme is called 'grey'; allowed: dark or light"):
        theme_named("grey")
