"""Random conveyors, invented: blanks, ranges and approximate values, many of them near a limit."""

from __future__ import annotations

import random
from typing import Any

from tests.independent import catalogue as c
from tests.independent.catalogue import About, Range, Values

_TROUGHS = (0.0, 15.0, 20.0, 25.0, 30.0, 35.0, 35.0, 35.0, 40.0, 45.0, 50.0, 60.0)
_WIDTHS = (0.5, 0.6, 0.65, 0.75, 0.8, 0.9144, 1.0, 1.0668, 1.2, 1.4, 1.6, 1.8, 2.2)
_BLADES = (
    "urethane",
    "rubber",
    "tungsten carbide",
    "stainless steel",
    "ceramic",
    "brush",
    "other",
)
_PLACES = ("none", "passive", "dynamic")
# What a range or an approximate number is written for; a count or a target is not.
_CLOSE = [
    "belt_width",
    "belt_speed",
    "belt_rated_tension",
    "tail_tension_ratio",
    "head_tension_ratio",
    "belt_tension_ratio",
    "tail_operating_tension",
    "head_operating_tension",
    "belt_operating_tension",
    "belt_modulus",
    "belt_mass",
    "conveyor_length",
    "trough_angle",
    "tail_transition_length",
    "head_transition_length",
    "tail_pulley_lift",
    "head_pulley_lift",
    "load_start",
    "chute_back",
    "chute_width_inside",
    "chute_wall_thickness",
    "drop_height",
    "lump_size",
    "material_size_mean",
    "bulk_density",
    "surcharge_angle",
    "tonnage",
    "load_idler_spacing",
    "load_belt_tension",
    "skirt_length",
    "seal_footprint",
    "belt_wander",
    "exhaust_airflow",
    "chute_open_area",
    "carryback_initial",
    "carryback_measured",
    "tracker_spacing_max",
    "side_clearance",
    "pulley_face_tail",
    "pulley_face_head",
    "door_width",
    "door_height",
    "service_clear_width",
    "dust_layer_depth",
]


def _belt(r: random.Random) -> Values:
    width = r.choice(_WIDTHS) if r.random() < 0.8 else round(r.uniform(0.4, 2.4), 3)
    trough = r.choice(_TROUGHS)
    rated = float(r.choice((40, 63, 80, 100, 125, 160, 250, 400)))
    carcass = r.choice(("fabric", "fabric", "steel cord"))
    row: Values = {
        "belt_width": width,
        "trough_angle": trough,
        "idler_rolls": r.choices((None, 3.0, 2.0, 5.0), (10, 10, 1, 1))[0],
        "centre_roll_length": round(width * r.uniform(0.3, 0.45), 3)
        if r.random() < 0.25
        else None,
        "belt_carcass": carcass,
        "conveyor_length": r.choice((20.0, 60.0, 140.0, 152.4, 160.0, 400.0)),
        "belt_mass": round(r.uniform(5, 40), 1),
        "belt_speed": r.choice((0.9, 1.016, 1.5, 1.778, 2.0, 2.5, 3.15, 4.0)),
        "splice_kind": r.choice(("vulcanised", "mechanical")),
        "reversing": r.random() < 0.3,
    }
    how = r.random()
    if how < 0.5:
        row["belt_rated_tension"] = rated
    elif how < 0.75:
        row["belt_nominal_strength"] = rated * (10 if carcass == "fabric" else 7)
    else:
        kind = r.choice(("EP", "NN")) if carcass == "fabric" else "ST"
        row["belt_designation"] = f"{kind} {rated * 10:.0f}"
        row["belt_carcass"] = None if r.random() < 0.7 else carcass
    if r.random() < 0.4:
        row["belt_modulus"] = round(
            rated * (r.uniform(40, 100) if carcass == "fabric" else r.uniform(430, 500)), 0
        )
    for end in ("tail", "head", "belt"):
        share = r.choice((0.2, 0.45, 0.6, 0.75, 0.8, 0.9, 0.95, round(r.uniform(0.1, 1.1), 3)))
        kind = r.random()
        if kind < 0.5:
            row[f"{end}_tension_ratio"] = share
        elif kind < 0.75:
            row[f"{end}_operating_tension"] = round(share * rated, 1)
    for end in ("tail", "head"):
        factor = r.choice((0.6, 0.9, 1.2, 1.6, 1.8, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0, 5.2))
        row[f"{end}_transition_length"] = _near(r, factor * width, 0.010)
        depth = width / 3 * c._sin(trough)
        row[f"{end}_pulley_lift"] = r.choice(
            (
                "full trough",
                "one-third",
                "half",
                0.0,
                depth / 3,
                depth / 2,
                round(r.uniform(-0.1, 0.7) * depth, 3),
                None,
            )
        )
    for name in ("pulley_crowned_tail", "pulley_crowned_head", "pulley_crowned"):
        row[name] = r.choice((True, False, None))
    needed = r.choice((0.075, 0.1, 0.15))
    for end in ("tail", "head"):
        row[f"pulley_face_{end}"] = round(
            width + r.choice((needed, needed, r.uniform(0.03, 0.3))), 4
        )
    row["tail_transition_idlers"] = float(r.choice((0, 1, 2)))
    for name in (
        "primary_cleaner",
        "secondary_cleaner",
        "cleaner_duty_selected",
        "cleaner_reversible",
        "tail_plough",
    ):
        row[name] = r.random() < 0.65
    row["secondary_blade"] = r.choice(_BLADES) if r.random() < 0.6 else None
    row["cleaner_tensioner"] = r.choice(("counterweight", "spring", "torsion", "air", "other"))
    row["carryback_target"] = r.choice((0.02, 0.05, 0.1, None))
    row["carryback_initial"] = r.choice((0.03, 0.05, 0.1, 0.2, 0.5))
    row["carryback_measured"] = r.choice((None, None, 0.02, 0.05, 0.1, 0.2))
    for name in ("tracker_before_tail", "tracker_after_load", "tracker_before_head"):
        row[name] = r.choice(_PLACES)
    row["tracker_spacing_max"] = r.choice((None, 15.0, 21.336, 30.0, 45.72, 60.0))
    row["tracker_count"] = r.choice((None, 0.0, 1.0, 4.0))
    row["side_clearance"] = r.choice((0.05, 0.075, 0.08, 0.12))
    row["alignment_switches"] = r.random() < 0.5
    row["edge_damage"] = r.choice(("none", "slight", "severe"))
    row["feeds_belt"] = r.random() < 0.5
    return row


def _near(r: random.Random, limit: float, step: float) -> float:
    """A value at, just beside or well away from a limit."""
    kind = r.random()
    if kind < 0.15:
        return limit
    if kind < 0.6:
        return max(limit + r.uniform(-2.5, 2.5) * max(step, 0.01 * limit), limit * 0.2)
    return round(limit * r.uniform(0.6, 1.6), 3)


def _load(r: random.Random, belt: Values) -> Values:
    width, trough = belt["belt_width"], belt["trough_angle"]
    wall = r.choice((0.003, 0.006, 0.010, 0.012))
    kind = r.choice(("none", "single strip", "dual lip", "other"))
    footprint = {"single strip": 0.04, "dual lip": 0.09, "none": None, "other": 0.06}[kind]
    free = c.troughed_width({"belt_width": width, "trough_angle": trough}) - 2 * wall
    chute = r.choice(
        (2 / 3 * width, free - 2 * c.edge_distance(width), free - 2 * 0.075, free - 0.26)
    )
    density = r.choice((0.6, 0.8, 0.95, 1.2014, 1.6, 2.2))
    speed, surcharge = belt["belt_speed"], r.choice((0.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0))
    area = c.cema_area(width, trough or 20.0, surcharge)
    tonnage = round(_near(r, r.choice((0.8, 1.0)) * area * density * speed * 3600, 1.0), 1)
    lump = r.choice((width / 3, width / 5, width / 6, width / 10, chute / 2, chute / 3.5))
    pitch = r.choice((0.3, 0.45, 0.6, 0.9, 1.2))
    weight = belt["belt_mass"] + tonnage / 3.6 / speed
    length = belt["tail_transition_length"]
    mean, drop = r.choice((0.002, 0.01, 0.03)), r.choice((0.5, 0.9144, 1.0, 2.5))
    opening = r.choice((0.02, 0.05, 0.15, 0.6))
    slow = speed < 1.01599
    guide = (350 if slow else 500) * c.CFM * width / c.FOOT
    dust = r.choice(("dry dusty", "combustible", "combustible", "sticky", "wet", "benign"))
    extra = (700 if width <= 0.9144 else 1000) * c.CFM
    pulled = tonnage / density / 3600 + c.INDUCED * opening * (tonnage * drop**2 / mean) ** (1 / 3)
    rules = (1.2 * speed, 1.524 + 0.6 * speed, 4 * width)
    depth = c.INCH / 32 * max(1.0, 75 * c.POUND_PER_CUBIC_FOOT / density)
    return {
        "chute_back": _near(r, length, 0.01),
        "load_start": _near(r, length + 0.1, 0.01),
        "chute_width_inside": _near(r, max(chute, 0.2 * width), 0.004),
        "chute_wall_thickness": wall,
        "seal_kind": kind,
        "seal_footprint": footprint,
        "belt_wander": r.choice((0.0, 0.02, 0.03, 0.05, 0.075, 0.1)),
        "lump_size": _near(r, lump, 0.001),
        "lump_mix": r.choice(("uniform", "with fines")),
        "surcharge_angle": surcharge,
        "tonnage": tonnage,
        "bulk_density": density,
        "drop_height": drop,
        "material_size_mean": mean,
        "chute_open_area": opening,
        "exhaust_airflow": _near(
            r, r.choice((guide, guide + extra, 0.762 * opening, pulled)), 0.0
        ),
        "dust_kind": dust,
        "load_support": r.choice(("idlers", "impact idlers", "impact bed", "slider bed")),
        "load_idler_spacing": pitch,
        "load_belt_tension": round(_near(r, weight * c.GRAVITY * pitch / 80, 0.0), 4),
        "skirt_length": _near(r, r.choice(rules), 0.0),
        "door_count": float(r.choice((0, 1, 2))),
        "door_width": r.choice((0.25, 0.3, 0.4)),
        "door_height": r.choice((0.25, 0.3, 0.4)),
        "service_clear_width": r.choice((0.5, 0.6, 0.8)),
        **{
            name: r.random() < 0.6
            for name in (
                "door_gasket",
                "door_latch",
                "door_barrier",
                "isolation_procedure",
                "nip_guards",
                "emergency_stop",
                "component_reach",
            )
        },
        "spillage_level": r.choice(("none", "light", "heavy")),
        "dust_layer_depth": _near(r, depth, 0.0002),
        "cleanup_hours": 3.0,
        "labour_rate": 40.0,
        "spilled_mass": 1.5,
        "material_value": 25.0,
    }


def _as_recorded(r: random.Random, row: Values, blank: float, shown: Values) -> Values:
    found: Values = {}
    for name, value in row.items():
        if value is None or r.random() < blank:
            continue
        found[name] = value
    numbers = [name for name in _CLOSE if isinstance(found.get(name), float) and found[name] > 0]
    for name in r.sample(numbers, min(len(numbers), r.choice((0, 0, 1, 2, 3)))):
        value = found[name]
        if r.random() < 0.5:
            found[name] = About(value)
        elif name != "trough_angle" or value > 5:
            low = value * (1 - r.choice((0.0, 0.01, 0.05, 0.15)))
            high = value * (1 + r.choice((0.005, 0.02, 0.08, 0.2)))
            if not (name in ("trough_angle", "surcharge_angle") and high > 44):
                found[name] = Range(low, high)
    return found


def rows(count: int, seed: int) -> list[Values]:
    """At least `count` rows: each conveyor has one to three load points."""
    r = random.Random(seed)
    made: list[Values] = []
    number = 0
    while len(made) < count:
        number += 1
        belt = _belt(r)
        blank = r.choice((0.0, 0.02, 0.05, 0.15, 0.4))
        recorded = _as_recorded(r, belt, blank, {})
        for point in range(r.choices((1, 2, 3), (8, 2, 1))[0]):
            load = _as_recorded(r, _load(r, belt), blank, recorded)
            own: dict[str, Any] = {"tag": f"CV-{number:05d}"}
            if point == 0:
                own |= recorded
            elif r.random() < 0.5:  # a further row repeats the belt, or leaves it blank
                own |= {name: value for name, value in recorded.items() if name not in load}
            made.append(own | load)
    return made[:count]
