"""The fibre model against quadrature, a fine grid, and lengths by the published formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from sheetcheck.formulas import tension
from tests.checks.reference import read_data, strain, tension_profile, trough_depth, wing

CASES = [
    (width, angle, length * width, share * trough_depth(width, angle))
    for width in (0.5, 1.2, 2.4)
    for angle in (5, 20, 35, 45, 75)
    for length in (0.5, 2.0, 8.0)
    for share in (-0.5, 0.0, 1 / 3, 0.5, 1.0)
]


def test_mean_strain_is_the_integral_over_the_width():
    for width, angle, length, lift in CASES:
        a = wing(width)
        wings, _ = integrate.quad(strain, 0, a, args=(length, angle, lift), epsabs=1e-15)
        mean = (2 * wings + (width - 2 * a) * strain(0, length, angle, lift)) / width
        got = float(tension.mean_strain(width, a, length, angle, lift))
        assert got == pytest.approx(mean, rel=1e-6, abs=1e-12)


def test_edge_strain_is_that_of_the_last_fibre():
    for width, angle, length, lift in CASES:
        got = float(tension.edge_strain(wing(width), length, angle, lift))
        assert got == pytest.approx(strain(wing(width), length, angle, lift), rel=1e-9)


def test_peak_and_least_are_the_extremes_of_a_fine_grid():
    for width, angle, length, lift in CASES:
        peak, least = tension.peak_and_least(50.0, 6000.0, width, wing(width), length, angle, lift)
        most, fewest = tension_profile(width, angle, length, 0.5, 60.0, lift)
        scale = max(1.0, abs(most), abs(fewest))
        assert float(peak) / 100 == pytest.approx(most, rel=1e-6, abs=1e-6)
        # the grid can only miss the least from above
        assert fewest - 1e-6 * scale - 1e-4 <= float(least) / 100 <= fewest + 1e-9 * scale


def test_profile_keeps_the_mean_and_both_ends():
    a = wing(1.2)
    position, across = tension.profile(50.0, 6000.0, 1.2, a, 2.5, 35, 0.05)
    assert len(across) == 41
    assert position[0] == pytest.approx(-0.6)
    assert position[-1] == pytest.approx(0.6)
    assert list(across) == pytest.approx(list(across[::-1]))
    assert np.trapezoid(across, position) / 1.2 == pytest.approx(50.0, rel=5e-3)
    edge = 50 + 6000 * (
        strain(a, 2.5, 35, 0.05) - float(tension.mean_strain(1.2, a, 2.5, 35, 0.05))
    )
    assert across[0] == pytest.approx(edge, rel=1e-9)


def test_identity_edge_strain_times_modulus_is_the_rise():
    rows = [row for row in read_data("iso5293_vectors.csv") if float(row["pulley_rise_mm"]) == 0]
    assert len(rows) == 10
    for row in rows:
        modulus, rise = float(row["M_N_mm"]), float(row["dT_N_mm"])
        edge = tension.edge_strain(
            float(row["wing_mm"]), float(row["L2004_mm"]), float(row["lam_deg"])
        )
        assert modulus * float(edge) == pytest.approx(rise, rel=rise / (2 * modulus) + 1e-4)


@given(
    width=st.floats(0.4, 2.4),
    angle=st.floats(10, 45),
    ratio=st.floats(0.2, 1.05),
    stiffness=st.floats(40, 500),
    share=st.floats(0, 0.5),
)
def test_shortest_length_stands_on_the_limit(width, angle, ratio, stiffness, share):
    lift = share * trough_depth(width, angle)
    rated = 80.0
    length = float(
        tension.shortest_length(
            1.15 * rated, ratio * rated, stiffness * rated, width, wing(width), angle, lift
        )
    )
    if math.isnan(length):
        peak, least = tension_profile(width, angle, 30.0, ratio, stiffness, lift)
        assert peak > 1.15 - 1e-9 or least < 1e-9
        return
    peak, least = tension_profile(width, angle, length * 1.0005, ratio, stiffness, lift)
    assert peak <= 1.15 + 1e-6
    assert least >= -1e-6
    peak, least = tension_profile(width, angle, length * 0.999, ratio, stiffness, lift)
    assert peak > 1.15 or least < 1e-4


def test_lift_that_would_do_does():
    a, depth = wing(1.2), trough_depth(1.2, 35)
    rated, modulus, length = 80.0, 6000.0, 1.45
    before, _ = tension_profile(1.2, 35, length, 0.8, 75.0)
    assert before > 1.15
    lift = float(
        tension.lift_that_would_do(1.15 * rated, 0.8 * rated, modulus, 1.2, a, length, 35)
    )
    assert 0 < lift <= depth / 2 + 1e-12
    peak, least = tension_profile(1.2, 35, length, 0.8, 75.0, lift)
    assert peak <= 1.15 + 1e-9
    assert least >= -1e-9
    a_step_less, _ = tension_profile(1.2, 35, length, 0.8, 75.0, lift - depth / 50)
    assert a_step_less > 1.15


def test_no_lift_above_half_the_trough_depth_is_offered():
    # Lengths at which half the depth is not enough, though a little more would be
    a, depth, between = wing(1.2), trough_depth(1.2, 35), 0
    for length in np.linspace(0.7, 1.5, 161):
        at_half, _ = tension_profile(1.2, 35, length, 0.8, 75.0, 0.5 * depth)
        above, least = tension_profile(1.2, 35, length, 0.8, 75.0, 0.55 * depth)
        if at_half > 1.15 and above <= 1.15 and least >= 0:
            between += 1
            found = tension.lift_that_would_do(92.0, 64.0, 6000.0, 1.2, a, length, 35)
            assert np.isnan(float(found))
    assert between
