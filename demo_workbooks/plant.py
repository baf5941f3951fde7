"""The invented demo site: one plausible design for a conveyor, then what went wrong with it.

Every conveyor of Tern Quay, its two older berths and Harrow Sidings is made up. `conveyor` gives
a row in SI under the field names of the register; the workbooks write it in their own units.
"""

from __future__ import annotations

import math
from typing import Any

INVENTED = "Invented demonstration data: no real site, conveyor or measurement stands behind it."

MATERIALS: dict[str, dict[str, Any]] = {
    "gypsum": {
        "bulk_density": 1.25,
        "moisture": 8,
        "dust_kind": "sticky",
        "surcharge_angle": 20,
        "lump_size": 0.075,
        "material_size_mean": 0.020,
        "lump_mix": "with fines",
        "material_value": 28,
    },
    "limestone aggregate": {
        "bulk_density": 1.4,
        "moisture": 3,
        "dust_kind": "dry dusty",
        "surcharge_angle": 25,
        "lump_size": 0.080,
        "material_size_mean": 0.025,
        "lump_mix": "uniform",
        "material_value": 16,
    },
    "petroleum coke": {
        "bulk_density": 0.75,
        "moisture": 7,
        "dust_kind": "combustible",
        "surcharge_angle": 20,
        "lump_size": 0.100,
        "material_size_mean": 0.030,
        "lump_mix": "with fines",
        "material_value": 110,
    },
    "wood pellets": {
        "bulk_density": 0.65,
        "moisture": 6,
        "dust_kind": "combustible",
        "surcharge_angle": 15,
        "lump_size": 0.030,
        "material_size_mean": 0.012,
        "lump_mix": "uniform",
        "material_value": 190,
    },
}

# designation: carcass, nominal strength kN/m, rated tension kN/m, modulus kN/m, mass kg/m2
BELTS: dict[str, tuple[str, float, float, float, float]] = {
    "EP 400/3": ("fabric", 400, 40, 2800, 11.0),
    "EP 630/4": ("fabric", 630, 63, 4600, 13.5),
    "EP 800/4": ("fabric", 800, 80, 6000, 15.0),
    "EP 1000/4": ("fabric", 1000, 100, 7500, 17.0),
    "ST 1000": ("steel cord", 1000, 150, 70000, 21.0),
    "ST 1600": ("steel cord", 1600, 240, 112000, 26.0),
}

# Transition lengths as the designer chose them, as multiples of belt width, with 8 % in hand.
TAIL = {"fabric": {20: 1.2, 35: 1.8, 45: 2.4}, "steel cord": {20: 2.8, 35: 3.6, 45: 4.4}}
HEAD = {"fabric": {20: 1.6, 35: 2.4, 45: 3.2}, "steel cord": {20: 3.2, 35: 5.2, 45: 6.4}}
AREA = {0: 0.045, 20: 0.085, 35: 0.110, 45: 0.122}  # loaded area as a multiple of width squared


def _up(value: float, step: float) -> float:
    return round(math.ceil(value / step - 1e-9) * step, 6)


def _chosen(table: dict[int, float], trough: float) -> float:
    return table[min((row for row in table if row >= trough), default=max(table))]


def conveyor(
    tag: str,
    service: str,
    material: str,
    belt: str,
    width: float,
    speed: float,
    trough: float,
    length: float,
    lift: float,
    *,
    fill: float = 0.6,
    **changes: Any,
) -> dict[str, Any]:
    """One register row in SI; `changes` replace what the design gives, None leaves a cell blank.

    `width`, `length` and `lift` in m, `speed` in m/s, `trough` in degrees; `fill` is the share of
    the full cross-section that the tonnage takes.
    """
    carcass, strength, rated, modulus, mass = BELTS[belt]
    stuff = MATERIALS[material]
    tail = _up(1.08 * width * _chosen(TAIL[carcass], trough), 0.05)
    head = _up(1.08 * width * _chosen(HEAD[carcass], trough), 0.05)
    tonnage = round(
        fill * _chosen(AREA, trough) * width**2 * stuff["bulk_density"] * speed * 3600, -1
    )
    dusty = stuff["dust_kind"] in ("dry dusty", "combustible")
    long = length > 60
    row: dict[str, Any] = {
        "tag": tag,
        "service": service,
        "material": material,
        "feeds_belt": True,
        "belt_width": width,
        "belt_speed": speed,
        "belt_carcass": carcass,
        "belt_designation": belt,
        "belt_nominal_strength": strength,
        "belt_rated_tension": rated,
        "tail_tension_ratio": 0.45,
        "head_tension_ratio": 0.78,
        "belt_modulus": modulus,
        "belt_thickness": 0.012 if carcass == "fabric" else 0.018,
        "belt_mass": round(mass * width, 1),
        "splice_kind": "vulcanised",
        "reversing": False,
        "conveyor_length": length,
        "lift": lift,
        "incline": round(math.degrees(math.asin(lift / length)), 1),
        "trough_angle": trough,
        "idler_rolls": 3 if trough else 1,
        "centre_roll_length": round(width / 3 + 0.02, 2) if trough else None,
        "carry_idler_spacing": 1.2,
        "return_idler_spacing": 3.0,
        "pulley_face_tail": _up(width + 0.16, 0.05),
        "pulley_face_head": _up(width + 0.16, 0.05),
        "pulley_crowned_tail": False,
        "pulley_crowned_head": False,
        "tail_transition_length": tail,
        "head_transition_length": head,
        "tail_pulley_lift": "full trough",
        "head_pulley_lift": "full trough",
        "tail_transition_idlers": 2,
        "chute_back": round(tail + 0.2, 2),
        "load_start": round(tail + 0.6, 2),
        "chute_width_inside": round(0.6 * width, 2),
        "chute_wall_thickness": 0.010,
        "drop_height": 2.4,
        **{key: value for key, value in stuff.items() if key != "material_value"},
        "tonnage": tonnage,
        "load_idler_spacing": 0.4,
        "load_belt_tension": round(0.45 * rated * width, 1),
        "load_support": "impact idlers",
        "skirt_length": _up(max(4 * width, 1.524 + 0.6 * speed, 1.2 * speed), 0.5),
        "skirt_height": round(0.5 * width, 2),
        "seal_kind": "dual lip" if dusty else "single strip",
        "seal_footprint": 0.080 if dusty else 0.040,
        "belt_wander": 0.012,
        "exhaust_airflow": round(1.2 + 1.4 * width, 1) if dusty else None,
        "chute_open_area": 0.08 if dusty else None,
        "primary_cleaner": True,
        "secondary_cleaner": True,
        "tertiary_cleaner": False,
        "primary_blade": "urethane",
        "secondary_blade": "tungsten carbide",
        "cleaner_tensioner": "spring",
        "cleaner_duty_selected": True,
        "cleaner_reversible": False,
        "tail_plough": True,
        "carryback_initial": 0.35,
        "carryback_measured": None,
        "carryback_target": 0.10,
        "cleaned_width": round(0.8 * width, 2),
        "tracker_before_tail": "dynamic",
        "tracker_after_load": "dynamic",
        "tracker_before_head": "dynamic",
        "tracker_spacing_max": 40 if long else 20,
        "tracker_count": math.ceil(2 * length / (40 if long else 20)) + 1,
        "side_clearance": 0.150,
        "alignment_switches": True,
        "edge_damage": "none",
        "door_count": 2,
        "door_width": 0.45,
        "door_height": 0.45,
        "door_gasket": True,
        "door_latch": True,
        "door_barrier": True,
        "isolation_procedure": True,
        "nip_guards": True,
        "emergency_stop": True,
        "service_clear_width": 0.8,
        "walkway_width": 0.9,
        "component_reach": True,
        "spillage_level": "none",
        "dust_layer_depth": 0.0003 if dusty else None,
        "cleanup_hours": 3,
        "labour_rate": 46,
        "material_value": stuff["material_value"],
        "operating_hours": 5200,
        "spilled_mass": 0.2,
    }
    unknown = changes.keys() - row.keys() - {"area", "load_point", "source_tag", "notes"}
    if unknown - {
        "belt_tension_ratio",
        "tail_operating_tension",
        "head_operating_tension",
        "belt_operating_tension",
        "pulley_crowned",
    }:
        raise KeyError(f"{tag}: {sorted(unknown)}")
    return row | changes


FLAT = {
    "chute_back": 0.6,
    "load_start": 0.9,
    "tail_transition_length": None,
    "head_transition_length": None,
    "tail_pulley_lift": None,
    "head_pulley_lift": None,
    "tail_transition_idlers": None,
    "load_support": "slider bed",
}
