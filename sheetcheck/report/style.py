"""Style names and what they look like; nothing else in the package names a colour.

The bands are told apart by a word first. Their fills also differ in lightness, so that they stay
apart in greyscale print and for readers with deuteranopia or protanopia; every text stands out
from its fill by at least 4.5:1 (W3C, Web Content Accessibility Guidelines 2.1, 1.4.3). The tests
compute both.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

__all__ = [
    "BAND_COLOURS",
    "INK",
    "PAPER",
    "SHOWN",
    "STYLES",
    "TAB",
    "band_colours",
    "decimals",
    "styles_with",
]

INK = "#1A1A1A"
PAPER = "#FFFFFF"
TAB = "#1F3A4D"
_RULE = "#B8BEC4"
_QUIET = "#595959"
_DARK = TAB
_LINK = "#0B4F8A"

BAND_COLOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "falls short": ("#7F2704", "#FFFFFF"),
        "not judged": ("#8F86B5", "#000000"),
        "marginal": ("#F0B03C", "#000000"),
        "meets": ("#C6E4F2", "#000000"),
        "not applicable": ("#FAFAFA", "#595959"),
        "information": ("#FFFFFF", "#1A1A1A"),
    }
)
"""Band to fill and text colour."""

SHOWN = tuple(band for band in BAND_COLOURS if band != "information")
"""Bands that judge, the worst first, as they stand beside one another."""

# One typeface that every office program has, and that does not follow the source's theme.
_FONT = {"font_name": "Arial", "font_scheme": "none", "font_size": 9, "font_color": INK}
_BOXED = {"border": 1, "border_color": _RULE}
_TOP = {"valign": "top"}
_MIDDLE = {"valign": "vcenter"}
_WRAPPED = {"text_wrap": True}
_RIGHT = _TOP | _BOXED | {"align": "right"}
_BLANK = "_)"  # as wide as a bracket, so that a number keeps off the text to its right
_HEADING = _MIDDLE | _WRAPPED | _BOXED | {"bold": True, "bg_color": _DARK, "font_color": PAPER}


def _build(colours: Mapping[str, tuple[str, str]]) -> dict[str, dict[str, Any]]:
    styles: dict[str, dict[str, Any]] = {
        "title": {"bold": True, "font_size": 14, "font_color": _DARK} | _MIDDLE,
        "subtitle": {"font_color": _QUIET} | _MIDDLE,
        "headline": {"bold": True, "font_size": 12} | _MIDDLE,
        "plain": dict(_TOP),
        # Filled alignment keeps a long text inside its cell.
        "clipped": {"font_color": _QUIET, "align": "fill"} | _TOP,
        "paragraph": _TOP | _WRAPPED,
        "strong": _TOP | _WRAPPED | {"bold": True},
        "strong line": _MIDDLE | {"bold": True},
        "section": {"bold": True, "font_size": 11, "font_color": _DARK, "bottom": 2} | _MIDDLE,
        "heading": _HEADING | {"align": "left"},
        "heading centred": _HEADING | {"align": "center"},
        "heading over several": _HEADING | {"align": "left", "text_wrap": False},
        "text": _TOP | _WRAPPED | _BOXED,
        "line": _TOP | _BOXED,
        "name": _TOP | _WRAPPED | _BOXED | {"bold": True},
        "figure": _RIGHT | {"num_format": "General" + _BLANK},
        "tag": _TOP | _BOXED | {"bold": True},
        "link": _TOP | _BOXED | {"font_color": _LINK, "underline": 1},
        "fill in": _TOP | _BOXED | {"locked": False},
        "fill in text": _TOP | _BOXED | {"locked": False, "num_format": "@"},
        "box": _MIDDLE | {"border": 2, "border_color": _DARK, "locked": False},
        "example": _TOP | _BOXED | {"italic": True, "font_color": _QUIET, "bg_color": "#F2F2F2"},
        "count": _RIGHT | {"num_format": "#,##0" + _BLANK},
        "share": _RIGHT | {"num_format": "0 %" + _BLANK},
    }
    for places, pattern in enumerate(("#,##0", "#,##0.0", "#,##0.00", "#,##0.000", "0.0000")):
        # Numbers never wrap; a range of two, which is text, does.
        styles[f"number {places}"] = _RIGHT | _WRAPPED | {"num_format": pattern + _BLANK}
    for band, (fill, text) in colours.items():
        look = _TOP | _WRAPPED | _BOXED | {"bg_color": fill, "font_color": text, "align": "center"}
        # The two that judge nothing have no colour to speak of: the letters tell them apart.
        slant = {"bold": band == "falls short", "italic": band == "not applicable"}
        styles[band] = look | slant
        styles[f"large {band}"] = look | {"bold": True, "font_size": 16, "valign": "vcenter"}
    return {name: _FONT | look for name, look in styles.items()}


STYLES: Mapping[str, Mapping[str, Any]] = MappingProxyType(_build(BAND_COLOURS))
"""Style name to font, fill, border, alignment and number format, in xlsxwriter's words."""


def band_colours(own: Mapping[str, tuple[str, str]]) -> dict[str, tuple[str, str]]:
    """Band to fill and text colour, a plant's own in place of the defaults."""
    return {band: own.get(band, colours) for band, colours in BAND_COLOURS.items()}


def styles_with(own: Mapping[str, tuple[str, str]]) -> Mapping[str, Mapping[str, Any]]:
    """`STYLES` with a plant's own band colours."""
    return _build(band_colours(own)) if own else STYLES


def decimals(places: int) -> str:
    """Name of the number style with so many decimal places, 0 to 4."""
    return f"number {min(max(places, 0), 4)}"
