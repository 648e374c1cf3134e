"""Every colour that carries words or marks can be told from what is behind it, in both schemes."""

from __future__ import annotations

import re
from itertools import product
from typing import Final

import pytest

from formula_vcs.reports.page import shell

STYLE: Final = shell._STYLE.read_text("utf-8")
STATES: Final = ("good", "bad", "warn", "note")
WASHES: Final = tuple(f"{state}-wash" for state in STATES)
SERIES: Final = tuple(f"series-{number}" for number in range(1, 7))
# WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (graphical objects and parts of controls)
TEXT, GRAPHICS = 4.5, 3.0


def schemes() -> dict[str, dict[str, str]]:
    blocks = re.findall(r":root \{([^}]*--ink[^}]*)\}", STYLE)
    assert 2 == len(blocks)
    light, dark = (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block)) for block in blocks)
    return {"light": light, "dark": light | dark}


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_against_known_ratios() -> None:
    """White on black is 21:1 by the definition; #767676 is the lightest grey on white above 4.5 (WebAIM)."""
    assert 21 == pytest.approx(contrast("#ffffff", "#000000"))
    assert contrast("#777777", "#ffffff") < TEXT < contrast("#767676", "#ffffff")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("behind", ["paper", "sheet", *WASHES])
@pytest.mark.parametrize("words", ["ink", "muted", "link", *STATES])
def test_words(scheme: str, words: str, behind: str) -> None:
    colours = schemes()[scheme]

    assert contrast(colours[words], colours[behind]) >= TEXT


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("series", SERIES)
def test_letters_on_a_mark(scheme: str, series: str) -> None:
    """The letter of a phase stands in the colour of the sheet on the colour of its part of the bar."""
    colours = schemes()[scheme]

    assert contrast(colours["sheet"], colours[series]) >= TEXT


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_marks(scheme: str) -> None:
    colours = schemes()[scheme]
    marks = (*SERIES, *STATES, "past", "rule-strong", "focus")

    weak = [
        f"{mark} on {behind}"
        for mark, behind in product(marks, ("paper", "sheet"))
        if contrast(colours[mark], colours[behind]) < GRAPHICS
    ]

    assert [] == weak


def test_print_uses_the_light_scheme() -> None:
    """A page printed from a dark screen must not be black: dark is for screens alone."""
    assert "@media screen and (prefers-color-scheme: dark)" in STYLE
    assert STYLE.count("prefers-color-scheme") == 1
