"""Cross-sections against quadrature, published examples and limiting cases."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from sheetcheck.formulas import geometry
from tests.checks.reference import FOOT, INCH, cema_area, read_data


def test_36_in_belt():
    # CEMA eq. 4.12 as quoted: 2.88 in. 31.66 in is geometry; the trade's 31.7 in has no source.
    assert geometry.edge_distance(36 * INCH) == pytest.approx(2.88 * INCH, rel=1e-12)
    centre = geometry.centre_contact(36 * INCH, np.nan, np.nan)
    wing = geometry.wing_length(36 * INCH, centre)
    width = geometry.troughed_width(centre, wing, 35)
    assert width == pytest.approx(31.66 * INCH, abs=0.005 * INCH)


def test_centre_contact_and_its_limiting_cases():
    assert geometry.centre_contact(0.9, np.nan, np.nan) == pytest.approx(0.3)  # ISO 5293
    assert geometry.centre_contact(0.9, 0.35, 3) == pytest.approx(0.35)
    assert geometry.centre_contact(0.9, np.nan, 2) == 0  # two rolls: no centre
    assert geometry.troughed_width(0.3, 0.3, 0) == pytest.approx(0.9)
    assert geometry.trough_depth(0.3, 90) == pytest.approx(0.3)
    assert geometry.trough_depth(0.3, 0) == 0


def test_a_trough_keeps_the_length_of_the_belt():
    for angle in (10, 20, 35, 45, 60):
        width = geometry.troughed_width(0.3, 0.25, angle)
        depth = geometry.trough_depth(0.25, angle)
        assert 0.3 + 2 * math.hypot((width - 0.3) / 2, depth) == pytest.approx(0.8)


def test_cema_area_is_the_integral_over_the_width():
    # Angles away from 0, where the arc becomes a line
    for width in (0.5, 0.9144, 1.4, 2.4):
        for angle in (0, 20, 35, 45):
            for surcharge in (0, 5, 15, 30):
                got = geometry.cema_area(width, angle, surcharge)
                assert got == pytest.approx(cema_area(width, angle, surcharge), rel=1e-9)


def test_cema_area_against_the_table():
    # Formula values (derived), to three decimals
    table = read_data("cema_area_ft2.csv")
    columns = [[float(row[name]) for row in table] for name in list(table[0])[:4]]
    angle, inches, surcharge, square_feet = np.array(columns)
    got = geometry.cema_area(inches * INCH, angle, surcharge) / FOOT**2
    np.testing.assert_allclose(got, square_feet, atol=6e-4)


def section(width: float, centre: float, angle: float, top) -> float:
    """Area between the rolls and a top curve over the usable width `width`, by quadrature."""
    tilt = math.radians(angle)
    half = centre / 2 + (width - centre) / 2 * math.cos(tilt)
    edge = (width - centre) / 2 * math.sin(tilt)

    def height(x: float) -> float:
        return edge + top(x, half) - max(0.0, x - centre / 2) * math.tan(tilt)

    parts = [(0.0, centre / 2), (centre / 2, half)]
    return 2 * sum(integrate.quad(height, low, high)[0] for low, high in parts)


@pytest.mark.parametrize("angle", [20, 30, 45])
@pytest.mark.parametrize("surcharge", [0, 10, 20, 30])
def test_metric_areas_are_a_parabola_and_a_triangle_on_the_same_trough(angle, surcharge):
    slope = math.tan(math.radians(surcharge))
    usable, centre = 0.9 * 1.2 - 0.05, 0.465

    def parabola(x: float, half: float) -> float:
        return slope * (half**2 - x**2) / (2 * half)

    def triangle(x: float, half: float) -> float:
        return slope * (half - x)

    iso = geometry.iso5048_area(1.2, centre, angle, surcharge)
    din = geometry.din22101_area(1.2, centre, angle, surcharge)
    assert iso == pytest.approx(section(usable, centre, angle, parabola), rel=1e-9)
    assert din == pytest.approx(section(usable, centre, angle, triangle), rel=1e-9)


@pytest.mark.parametrize(
    ("width", "usable"), [(0.5, 0.40), (1.0, 0.85), (1.2, 1.03), (2.0, 1.75), (2.2, 1.95)]
)
def test_usable_width_of_iso_5048(width, usable):
    # 0.9·B − 0.05 m up to 2 m, B − 0.25 m above
    assert geometry.usable_width(width) == pytest.approx(usable, rel=1e-12)


def test_worked_example_in_the_style_of_din_22101():
    # E1: B = 1200, l = 465, λ = 35°, β = 15°: A1 = 0.0577, A2 = 0.1128, A = 0.1705 m²;
    # at 1.68 m/s and 70 % fill 721.868 m³/h
    example = next(row for row in read_data("worked_examples.csv") if row["id"] == "E1")
    assert example["usable_in_tests"].startswith("yes")
    area = geometry.din22101_area(1.2, 0.465, 35, 15)
    water_level = geometry.din22101_area(1.2, 0.465, 35, 0)
    assert area == pytest.approx(0.1705, abs=5e-5)
    assert water_level == pytest.approx(0.1128, abs=5e-5)
    assert area - water_level == pytest.approx(0.0577, abs=5e-5)
    assert area * 1.68 * 0.7 * 3600 == pytest.approx(721.868, rel=5e-4)


def test_worked_example_in_the_style_of_iso_5048():
    # E2: B = 1000, l3 = 380, λ = 35°, θ = 30°: S1 = 0.056311 (its S2 and S are wrong at source)
    cap = geometry.iso5048_area(1.0, 0.38, 35, 30) - geometry.iso5048_area(1.0, 0.38, 35, 0)
    assert cap == pytest.approx(0.056311, rel=1e-4)


def test_metric_areas_against_the_table():
    # Values by the two formulas (derived), centre rolls as in the standard's series
    table = read_data("iso_din_area_m2.csv")
    names = ("B_mm", "l3_mm", "trough_deg", "theta_deg", "S_iso5048", "A_din22101_tan_over_4")
    width, centre, angle, surcharge, iso, din = (
        np.array([float(row[name]) for row in table]) for name in names
    )
    arguments = (width / 1e3, centre / 1e3, angle, surcharge)
    np.testing.assert_allclose(geometry.iso5048_area(*arguments), iso, atol=6e-6)
    np.testing.assert_allclose(geometry.din22101_area(*arguments), din, atol=6e-6)


def test_arrays_and_scalars_give_the_same():
    widths = np.array([0.6, 1.0, 1.4])
    together = geometry.cema_area(widths, 35, 20)
    assert together == pytest.approx([float(geometry.cema_area(w, 35, 20)) for w in widths])
