"""Register rows drawn at random, always the same ones, so that every check gives every band."""

from __future__ import annotations

from typing import Any

import numpy as np

from sheetcheck.register.fields import FIELDS

# Values of each number, mixed so that its checks fall on both sides of their limits.
NUMBERS: dict[str, tuple[Any, ...]] = {
    "belt_width": (0.5, 0.65, 0.8, 0.9144, 1.0, 1.0668, 1.2, 1.4, 1.8),
    "belt_speed": (0.4, 1.0, 1.5, 1.8, 2.5, 4.0),
    "belt_rated_tension": (40.0, 63.0, 80.0, 150.0, 240.0),
    "tail_tension_ratio": (0.05, 0.2, 0.45, 0.6, 0.75, 0.92),
    "head_tension_ratio": (0.2, 0.45, 0.6, 0.75, 0.9, 0.95),
    "belt_modulus": (2800.0, 6000.0, 12000.0, 70000.0),
    "belt_mass": (8.0, 14.0, 22.0),
    "conveyor_length": (9.0, 20.0, 60.0, 152.4, 300.0),
    "trough_angle": (0.0, 20.0, 30.0, 35.0, 45.0, 60.0),
    "idler_rolls": (None, 3.0),
    "centre_roll_length": (None, 0.2, 0.3, 0.38),
    "carry_idler_spacing": (0.6, 1.0, 1.2, 1.5),
    "pulley_face_tail": (0.7, 0.95, 1.0, 1.15, 1.3, 1.6, 2.0),
    "pulley_face_head": (0.7, 0.95, 1.0, 1.15, 1.3, 1.6, 2.0),
    "tail_transition_length": (0.8, 1.4, 2.0, 2.6, 3.4, 5.0, 8.0),
    "head_transition_length": (0.8, 1.4, 2.0, 2.6, 3.4, 5.0, 8.0),
    "tail_pulley_lift": ("full trough", "one-third", "half", 0.0, 0.05, 0.1, 0.16),
    "head_pulley_lift": ("full trough", "one-third", "half", 0.0, 0.05, 0.1, 0.16),
    "tail_transition_idlers": (0.0, 1.0, 2.0),
    "load_start": (1.5, 2.5, 3.5, 6.0, 10.0),
    "chute_back": (1.2, 2.2, 3.2, 5.5, 9.5),
    "chute_width_inside": (0.25, 0.4, 0.5, 0.6, 0.7, 0.85, 1.0),
    "chute_wall_thickness": (0.0, 0.006, 0.01, 0.02),
    "drop_height": (0.5, 2.0, 6.0),
    "lump_size": (0.02, 0.08, 0.12, 0.18, 0.3),
    "material_size_mean": (0.001, 0.0035, 0.01, 0.03),
    "bulk_density": (0.65, 1.0, 1.4, 1.9),
    "surcharge_angle": (5.0, 15.0, 20.0, 25.0, 30.0, 35.0),
    "tonnage": (60.0, 200.0, 400.0, 600.0, 900.0, 1500.0),
    "load_idler_spacing": (0.3, 0.5, 0.9, 1.2),
    "load_belt_tension": (3.0, 8.0, 15.0, 30.0),
    "skirt_length": (1.0, 2.5, 3.5, 4.5, 6.0),
    "seal_footprint": (0.03, 0.05, 0.08, 0.1),
    "belt_wander": (0.0, 0.02, 0.05, 0.1),
    "exhaust_airflow": (0.2, 0.6, 1.0, 3.0),
    "chute_open_area": (0.02, 0.1, 0.4),
    "carryback_initial": (0.1, 0.3, 0.6),
    "carryback_measured": (None, None, 0.03, 0.1, 0.3),
    "carryback_target": (0.05, 0.1, 0.2),
    "cleaned_width": (0.5, 0.8),
    "tracker_spacing_max": (10.0, 21.0, 30.0, 45.0, 60.0),
    "tracker_count": (0.0, 0.0, 3.0, 8.0),
    "side_clearance": (0.05, 0.075, 0.1, 0.2),
    "door_count": (0.0, 1.0, 2.0),
    "door_width": (0.2, 0.3, 0.45),
    "door_height": (0.2, 0.3, 0.45),
    "service_clear_width": (0.4, 0.6, 0.8),
    "dust_layer_depth": (0.0002, 0.0007, 0.0012, 0.003),
    "cleanup_hours": (1.0, 10.0),
    "labour_rate": (40.0, 60.0),
    "material_value": (20.0, 100.0),
    "operating_hours": (4000.0, 8000.0),
    "spilled_mass": (0.1, 2.0),
}


def pool(name: str) -> tuple[Any, ...]:
    """Values that a field takes in the samples; none for a figure that only stands in."""
    if name == "pulley_crowned":
        return ()
    if FIELDS[name].kind == "choice":
        return FIELDS[name].choices
    if FIELDS[name].kind == "yes/no":
        return (True, False)
    return NUMBERS.get(name, ())


def sample_rows(count: int, seed: int, missing: float = 0.0) -> list[dict[str, Any]]:
    """`count` rows with a tag each; every value is left out with chance `missing`."""
    random = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for number in range(count):
        row: dict[str, Any] = {"tag": f"S{number}"}
        for name in FIELDS:
            values = pool(name)
            if values and random.random() >= missing:
                row[name] = values[int(random.integers(len(values)))]
        rows.append(row)
    return rows
