"""Sag, impact and air: dimensions through pint, published formulas in their own units."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from scipy import integrate

from sheetcheck.formulas import carryback, loading, tracking, transition
from tests.checks.reference import read_data

unit = pint.UnitRegistry()


def test_material_on_the_belt():
    rate = 720 * unit.metric_ton / unit.hour
    per_metre = (rate / (2.5 * unit.metre / unit.second)).to("kg/m").magnitude
    assert float(loading.material_mass(720, 2.5)) == pytest.approx(per_metre, rel=1e-12)


def test_sag_is_that_of_a_parabola():
    mass = (14 + 80) * unit.kilogram / unit.metre
    weight = mass * unit.standard_gravity
    sag = (weight * (1.2 * unit.metre) ** 2 / (8 * 20 * unit.kilonewton)).to("metre").magnitude
    assert float(loading.sag_ratio(14, 80, 1.2, 20)) == pytest.approx(sag / 1.2, rel=1e-9)


def test_sag_factor_of_three_per_cent():
    # E9: published as 4.2 times load and pitch for 3 % sag; 1/(8·0.03) = 4.17
    load = 100.0
    tension = 4.2 * load * 9.80665 * 1.0 / 1e3
    assert float(loading.sag_ratio(0, load, 1.0, tension)) == pytest.approx(0.03, rel=0.01)


def test_lump_energy():
    lump = 0.6 * 1.6 * 1.5 * unit.metric_ton / unit.metre**3 * (0.2 * unit.metre) ** 3
    energy = (lump * unit.standard_gravity * 3 * unit.metre).to("joule").magnitude
    got = loading.lump_energy(0.2, 1.5, 3.0, 0.6, 1.6)
    assert float(got) == pytest.approx(energy, rel=1e-9)


def test_stream_force_is_the_momentum_that_is_stopped():
    rate = 800 * unit.metric_ton / unit.hour
    speed = (2 * unit.standard_gravity * 3 * unit.metre) ** 0.5
    force = (rate * speed).to("newton").magnitude
    assert float(loading.stream_force(800, 3.0)) == pytest.approx(force, rel=1e-4)
    assert float(loading.stream_force(1, 1)) == pytest.approx(1.2302, abs=5e-5)


def test_displaced_air():
    rate = 500 * unit.metric_ton / unit.hour / (1.25 * unit.metric_ton / unit.metre**3)
    assert float(loading.displaced_air(500, 1.25)) == pytest.approx(
        rate.to("metre**3/second").magnitude, rel=1e-12
    )


def test_induced_air_in_the_units_it_was_published_in():
    # NIOSH RI 9689 (2012) eq. 5.2 and 5.3: ft³/min, ft², short tons per hour, ft
    tons = (600 * unit.metric_ton / unit.hour).to("short_ton/hour").magnitude
    fall = (3 * unit.metre).to("foot").magnitude
    size = (0.02 * unit.metre).to("foot").magnitude
    area = (0.4 * unit.metre**2).to("foot**2").magnitude
    cfm = 10 * area * (tons * fall**2 / size) ** (1 / 3)
    published = (cfm * unit.foot**3 / unit.minute).to("metre**3/second").magnitude
    assert float(loading.induced_air(600, 3, 0.02, 0.4)) == pytest.approx(published, rel=1e-9)
    assert float(loading.induced_air(1, 1, 1, 1)) == pytest.approx(0.07798, rel=1e-4)


@pytest.mark.parametrize(("fpm", "cfm"), [(100, 350), (199.9, 350), (200, 500), (600, 500)])
def test_exhaust_guide(fpm, cfm):
    # ACGIH Industrial Ventilation VS-50-20: 350 or 500 ft³/min per foot of belt width
    flow = (cfm * unit.foot**3 / unit.minute / unit.foot * 1.2 * unit.metre).to("metre**3/second")
    speed = (fpm * unit.foot / unit.minute).to("metre/second").magnitude
    assert float(loading.exhaust_guide(1.2, speed)) == pytest.approx(flow.magnitude, rel=1e-9)


@pytest.mark.parametrize(
    ("primary", "secondary", "metal", "least", "most"),
    [
        (False, False, False, 0.0, 0.0),
        (True, False, False, 0.40, 0.50),
        (False, True, False, 0.40, 0.50),
        (False, True, True, 0.40, 0.50),
        (True, True, False, 0.40, 0.90),
        (True, True, True, 0.90, 0.90),
    ],
)
def test_cleaner_effect(primary, secondary, metal, least, most):
    # Common practice, no published source
    fitted = (np.array([x]) for x in (primary, secondary, metal))
    got = carryback.cleaner_effect(*fitted, (0.40, 0.50), (0.40, 0.90))
    assert [float(np.ravel(x)[0]) for x in got] == pytest.approx([least, most])


def test_carryback_mass_flow():
    residue = 0.1 * unit.kilogram / unit.metre**2
    flow = (residue * 0.8 * unit.metre * 2 * unit.metre / unit.second).to("kg/hour").magnitude
    assert float(carryback.mass_flow(0.1, 0.8, 2.0)) == pytest.approx(flow, rel=1e-12)


def test_transition_idler_positions():
    # Read values, two decimals; E11: 0.07, 0.20, 0.40, 0.67 for four idlers
    table = read_data("transition_idler_positions.csv")
    for count in (1, 2, 3, 4):
        printed = [float(r["printed_fraction_of_Y"]) for r in table if r["n_idlers"] == str(count)]
        assert len(printed) == count
        assert list(transition.idler_positions(count)) == pytest.approx(printed, abs=0.0051)


def test_transition_idler_angle_follows_the_straight_belt_edge():
    # The edge runs from (a, 0) at the pulley to (a·cos λ, a·sin λ) in the trough.
    for angle in (20, 35, 45):
        tilt = math.radians(angle)
        for share in (0.0, 0.1, 0.5, 0.9, 1.0):
            across = 1 + share * (math.cos(tilt) - 1)
            up = share * math.sin(tilt)
            expected = math.degrees(math.atan2(up, across))
            assert float(transition.idler_angles(share, angle)) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("length", "reach", "count"), [(100, 45.72, 5), (100, 21.336, 10), (10, 45.72, 1), (30, 20, 3)]
)
def test_device_count(length, reach, count):
    assert float(tracking.device_count(length, reach)) == count


@pytest.mark.parametrize(("length", "count"), [(100, 5), (37.5, 3), (10, 1), (250, 12)])
def test_devices_stand_at_equal_runs_around_the_loop(length, count):
    carry, returning = tracking.device_places(length, count)
    assert len(carry) + len(returning) == count
    assert list(carry) == sorted(carry)
    assert list(returning) == sorted(returning)
    # along the belt: up the carrying run, then back along the return run to the tail
    along = np.array([*carry, *(2 * length - np.array(returning))])
    along = np.sort(along % (2 * length))
    gaps = np.diff([*along, along[0] + 2 * length])
    assert gaps == pytest.approx([2 * length / count] * count, abs=1e-6)


def test_quadrature_is_a_second_opinion_on_the_parabola():
    # Length of the sagging belt: integrating the slope gives the sag back.
    load, tension, pitch = 94 * 9.80665, 20e3, 1.2
    sag, _ = integrate.quad(lambda x: load * x / tension, 0, pitch / 2)
    assert float(loading.sag_ratio(14, 80, pitch, 20)) == pytest.approx(sag / pitch, rel=1e-4)
