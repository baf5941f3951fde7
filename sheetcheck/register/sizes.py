"""Sizes that a plant's conveyors mostly have, in each field's SI unit.

Wide enough that a plant's own values pass, and narrow enough that a slipped unit or a shifted
decimal point mostly does not: what lies outside is doubted, and so is a heading's unit in which
no value of its column lies inside. Common practice, no published source [C]. They are no limits:
no verdict is by them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["SIZES"]

SIZES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "belt_rated_tension": (5, 1500),
        "belt_nominal_strength": (50, 10_000),
        "belt_modulus": (200, 500_000),
        "belt_thickness": (0.003, 0.06),
        "belt_mass": (1, 200),
        "conveyor_length": (2, 30_000),
        "lift": (-500, 500),
        "incline": (-40, 40),
        "centre_roll_length": (0.05, 1.5),
        "carry_idler_spacing": (0.1, 4),
        "return_idler_spacing": (0.3, 8),
        "pulley_face_tail": (0.2, 3.5),
        "pulley_face_head": (0.2, 3.5),
        "tail_transition_length": (0.15, 25),
        "head_transition_length": (0.15, 25),
        "load_start": (0.1, 500),
        "chute_back": (0.05, 500),
        "chute_width_inside": (0.25, 2.6),
        "chute_wall_thickness": (0.0005, 0.06),
        "drop_height": (0.05, 40),
        "lump_size": (0.0005, 1.5),
        "material_size_mean": (0.00005, 0.5),
        "tonnage": (1, 30_000),
        "load_idler_spacing": (0.1, 4),
        "load_belt_tension": (0.2, 3000),
        "skirt_length": (0.2, 60),
        "skirt_height": (0.05, 3),
        "seal_footprint": (0.01, 0.3),
        "belt_wander": (0, 0.5),
        "exhaust_airflow": (0.01, 30),
        "chute_open_area": (0.0005, 20),
        "carryback_initial": (0.0005, 20),
        "carryback_measured": (0.0001, 20),
        "carryback_target": (0.0001, 20),
        "cleaned_width": (0.2, 3),
        "tracker_spacing_max": (1, 30_000),
        "side_clearance": (0, 3),
        "door_width": (0.05, 2.5),
        "door_height": (0.05, 2.5),
        "service_clear_width": (0.05, 5),
        "walkway_width": (0.1, 6),
        "dust_layer_depth": (0, 0.3),
        "cleanup_hours": (0, 2000),
        "moisture": (0, 70),
    }
)
"""Field to its least and its largest usual size; fields with a span of their own are left out."""
