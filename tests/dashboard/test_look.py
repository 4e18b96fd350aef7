"""Colours against the contrast that WCAG 2.1 asks for (success criteria 1.4.3 and 1.4.11)."""

import re
from itertools import product
from pathlib import Path

import pytest

import dashboard
from dashboard.figures import style

CSS = (Path(dashboard.__file__).parent / "assets" / "look.css").read_text(encoding="utf-8")
TEXTS = ("ink", "quiet", "link")
GRAPHICS = ("forecast", "logged", "sign", "focus", "warn-edge", "harm")
GROUNDS = ("paper", "card")


def colours(block: str) -> dict[str, str]:
    """Names and values of the colours in the first block that begins so."""
    body = CSS.split(block, 1)[1].split("}", 1)[0]
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", body))


LIGHT = colours(":root {")
DARK = LIGHT | colours(':root[data-mantine-color-scheme="dark"] {')


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1, section Terms and definitions."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.1, section Terms and definitions."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
def test_text_stands_out_by_4_5_and_graphics_by_3(scheme: dict[str, str]) -> None:
    for text, ground in product(TEXTS, (*GROUNDS, "warn", "harm-ground")):
        assert contrast(scheme[text], scheme[ground]) >= 4.5, (text, ground)
    for mark, ground in product(GRAPHICS, GROUNDS):
        assert contrast(scheme[mark], scheme[ground]) >= 3, (mark, ground)
    assert contrast(scheme["on-bark"], scheme["bark"]) >= 4.5


def test_pictures_and_pages_use_the_same_colours() -> None:
    assert LIGHT["forecast"] == style.FORECAST
    assert LIGHT["logged"] == style.LOGGED
    assert LIGHT["sign"] == style.QUIET
    assert LIGHT["harm"] == style.HARM


def test_the_style_sheet_asks_nothing_of_other_hosts() -> None:
    assert "http" not in CSS
    assert "@import" not in CSS
    assert "url(" not in CSS
