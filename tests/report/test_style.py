"""Contrast and colour-blindness of the bands, computed."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from sheetcheck.findings.results import BANDS
from sheetcheck.report.style import BAND_COLOURS, STYLES

# W3C, Web Content Accessibility Guidelines 2.1, "relative luminance" and "contrast ratio".
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, severity 1.0, linear RGB. From memory;
# each row must sum to 1, as white stays white.
_SIGHT = {
    "usual": np.eye(3),
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
    "greyscale": np.tile(_LUMINANCE, (3, 1)),
}
_VERDICTS = [band for band in BANDS if band != "information"]


def linear(colour: str) -> np.ndarray:
    channels = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    return float(linear(colour) @ _LUMINANCE)


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lightness(colour: str, sight: np.ndarray) -> float:
    """CIE 1976 L* (CIE 15) of a colour as seen."""
    seen = float(np.clip(sight @ linear(colour), 0, 1) @ _LUMINANCE)
    return 116 * np.cbrt(seen) - 16 if seen > 0.008856 else 903.3 * seen


def test_the_sight_matrices_leave_white_white() -> None:
    for sight in _SIGHT.values():
        assert sight.sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


def test_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)


def test_every_band_has_a_colour() -> None:
    assert set(BAND_COLOURS) == set(BANDS)
    assert set(BANDS) <= set(STYLES)


@pytest.mark.parametrize("name", STYLES)
def test_text_stands_out_from_its_fill(name: str) -> None:
    style = STYLES[name]
    assert contrast(style["font_color"], style.get("bg_color", "#FFFFFF")) >= 4.5


@pytest.mark.parametrize("sight", _SIGHT)
def test_verdict_fills_differ_in_lightness(sight: str) -> None:
    for one, other in combinations(_VERDICTS, 2):
        difference = abs(
            lightness(BAND_COLOURS[one][0], _SIGHT[sight])
            - lightness(BAND_COLOURS[other][0], _SIGHT[sight])
        )
        # A difference of 5 in L* is plain to see side by side: common practice, no published
        # source.
        assert difference >= 5, (one, other, difference)
