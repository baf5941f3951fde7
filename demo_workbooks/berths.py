"""Tern Quay's two older berths: US units, feet and inches, two sheets joined by the tag."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from plant import FLAT, INVENTED, conveyor
from sheets import book, put, shown

FOOT = 0.3048
INCH = 0.0254

_FEET = (1 / FOOT, 1)
_INCHES = (1 / INCH, 1)

# field, header as the berths' staff wrote it, SI to shown unit, decimals (None: words)
BELTS_AND_CHUTES: list[tuple[str, str, float, int | None]] = [
    ("tag", "Conveyor No.", 1, None),
    ("service", "Service", 1, None),
    ("load_point", "Load Point", 1, None),
    ("belt_width", "Belt Width (in)", 1 / INCH, 0),
    ("belt_speed", "Belt Speed (fpm)", 60 / FOOT, 0),
    ("belt_carcass", "Carcass", 1, None),
    ("belt_rated_tension", "Rated Tension (PIW)", 1 / 0.175126835, 0),
    ("tail_tension_ratio", "Tail Tension (% of rating)", 100, 0),
    ("head_tension_ratio", "Head Tension (% of rating)", 100, 0),
    ("belt_mass", "Belt Weight (lb/ft)", 1 / 1.48816394, 1),
    ("splice_kind", "Splice Type", 1, None),
    ("reversing", "Reversing (Y/N)", 1, None),
    ("feeds_belt", "Discharges onto Belt (Y/N)", 1, None),
    ("conveyor_length", "Pulley Centers (ft)", *_FEET),
    ("lift", "Lift (ft)", *_FEET),
    ("trough_angle", "Trough Angle (deg)", 1, 0),
    ("carry_idler_spacing", "Carrying Idler Spacing (ft)", *_FEET),
    ("pulley_face_tail", "Tail Pulley Face (in)", 1 / INCH, 0),
    ("pulley_face_head", "Head Pulley Face (in)", 1 / INCH, 0),
    ("pulley_crowned", "Pulleys Crowned (Y/N)", 1, None),
    ("tail_transition_length", "Tail Transition Length", 0, None),
    ("head_transition_length", "Head Transition Length", 0, None),
    ("tail_pulley_lift", "Tail Pulley Position", 1, None),
    ("head_pulley_lift", "Head Pulley Position", 1, None),
    ("tail_transition_idlers", "Tail Transition Idlers", 1, 0),
    ("chute_back", "Tail Pulley to Chute Back", 0, None),
    ("load_start", "Tail Pulley to Where Material Lands", 0, None),
    ("chute_width_inside", "Chute Inside Width (in)", *_INCHES),
    ("chute_wall_thickness", "Chute Wall (in)", 1 / INCH, 3),
    ("drop_height", "Drop Height (ft)", *_FEET),
    ("material", "Material", 1, None),
    ("lump_size", "Max Lump (in)", *_INCHES),
    ("material_size_mean", "Mean Size (in)", 1 / INCH, 2),
    ("lump_mix", "Lump Mix", 1, None),
    ("bulk_density", "Bulk Density (lb/ft³)", 62.4279606, 0),
    ("dust_kind", "Dust", 1, None),
    ("surcharge_angle", "Surcharge Angle (deg)", 1, 0),
    ("tonnage", "Capacity (stph)", 1 / 0.90718474, 0),
    ("load_idler_spacing", "Idler Spacing at Load (in)", *_INCHES),
    ("load_belt_tension", "Belt Tension at Load (lbf)", 1000 / 4.4482216152605, 0),
    ("load_support", "Load Zone Support", 1, None),
    ("skirt_length", "Skirtboard Length (ft)", *_FEET),
    ("seal_kind", "Skirt Seal", 1, None),
    ("seal_footprint", "Seal Footprint (in)", *_INCHES),
    ("belt_wander", "Belt Wander Each Side (in)", *_INCHES),
    ("exhaust_airflow", "Exhaust Airflow (cfm)", 60 / FOOT**3, 0),
    ("chute_open_area", "Chute Open Area (ft²)", 1 / FOOT**2, 1),
]

CLEANING_TRACKING_ACCESS: list[tuple[str, str, float, int | None]] = [
    ("tag", "Conveyor No.", 1, None),
    ("primary_cleaner", "Primary Cleaner (Y/N)", 1, None),
    ("primary_blade", "Primary Blade", 1, None),
    ("secondary_cleaner", "Secondary Cleaner (Y/N)", 1, None),
    ("secondary_blade", "Secondary Blade", 1, None),
    ("cleaner_tensioner", "Cleaner Tensioner", 1, None),
    ("cleaner_duty_selected", "Cleaner Selected for Duty (Y/N)", 1, None),
    ("cleaner_reversible", "Cleaner Suits Reversing Belt (Y/N)", 1, None),
    ("tail_plough", "Tail Plow (Y/N)", 1, None),
    ("tracker_before_tail", "Tracking Device before Tail", 1, None),
    ("tracker_after_load", "Tracking Device after Load", 1, None),
    ("tracker_before_head", "Tracking Device before Head", 1, None),
    ("tracker_spacing_max", "Longest Run without Tracking Device (ft)", *_FEET),
    ("tracker_count", "Tracking Devices, Total", 1, 0),
    ("side_clearance", "Belt Edge to Structure (in)", *_INCHES),
    ("alignment_switches", "Misalignment Switches (Y/N)", 1, None),
    ("edge_damage", "Belt Edge Damage", 1, None),
    ("door_count", "Inspection Doors", 1, 0),
    ("door_width", "Door Width (in)", *_INCHES),
    ("door_height", "Door Height (in)", *_INCHES),
    ("door_gasket", "Door Gasket (Y/N)", 1, None),
    ("door_latch", "Door Latch (Y/N)", 1, None),
    ("door_barrier", "Guard behind Door (Y/N)", 1, None),
    ("isolation_procedure", "Lockout Procedure (Y/N)", 1, None),
    ("nip_guards", "Nip Guards (Y/N)", 1, None),
    ("emergency_stop", "Pull Cord along Walkway (Y/N)", 1, None),
    ("service_clear_width", "Service Clear Width (in)", *_INCHES),
    ("component_reach", "Components Reachable (Y/N)", 1, None),
    ("spillage_level", "Spillage", 1, None),
    ("dust_layer_depth", "Dust Layer (in)", 1 / INCH, 3),
    ("cleanup_hours", "Clean-up (hr/week)", 1, 0),
    ("labour_rate", "Labor Rate (/hr)", 1, 0),
    ("operating_hours", "Operating Hours (h/year)", 1, 0),
]

_G, _L, _P, _W = "gypsum", "limestone aggregate", "petroleum coke", "wood pellets"


def feet_and_inches(metres: float) -> str:
    """``7'-2 1/2"``, to the nearest quarter inch as the berths' drawings give lengths."""
    quarters = round(metres / INCH * 4)
    feet, rest = divmod(quarters, 48)
    inches, part = divmod(rest, 4)
    return f"{feet}'-{inches}" + (f" {Fraction(part, 4)}" if part else "") + '"'


def _belt(
    tag: str,
    service: str,
    material: str,
    belt: str,
    inches: int,
    fpm: int,
    trough: int,
    feet: float,
    rise: float,
    **changes: Any,
) -> dict[str, Any]:
    metric = (inches * INCH, fpm * FOOT / 60, trough, feet * FOOT, rise * FOOT)
    return conveyor(tag, service, material, belt, *metric, **{"pulley_crowned": False} | changes)


def rows() -> list[dict[str, Any]]:
    """The berths' conveyors, in SI."""
    north = [
        _belt("B1-01", "Dock hopper", _L, "EP 630/4", 36, 350, 35, 42, 3),
        _belt(
            *("B1-02", "Dock belt", _L, "EP 800/4", 36, 450, 35, 410, 28),
            tail_transition_length=86.5 * INCH,
            tail_tension_ratio=0.80,
            chute_width_inside=24 * INCH,
            chute_wall_thickness=0.25 * INCH,
            seal_footprint=3.75 * INCH,
            tracker_spacing_max=140 * FOOT,
        ),
        _belt(
            *("B1-03", "Gallery belt", _L, "EP 800/4", 36, 600, 35, 380, 44),
            skirt_length=12 * FOOT,
            primary_blade="rubber",
            secondary_blade="rubber",
            spillage_level="light",
        ),
        _belt(
            *("B1-04", "Shed shuttle", _L, "EP 630/4", 36, 400, 35, 120, 0),
            reversing=True,
            cleaner_reversible=True,
            tail_plough=False,
            seal_kind="none",
            seal_footprint=None,
        ),
        _belt(
            *("B1-05", "Reclaim tunnel belt", _L, "EP 630/4", 30, 320, 20, 210, 6),
            load_point="Gate 1",
            service_clear_width=18 * INCH,
            emergency_stop=False,
        ),
        _belt(
            *("B1-05", "Reclaim tunnel belt", _L, "EP 630/4", 30, 320, 20, 210, 6),
            load_point="Gate 2",
            chute_back=40 * FOOT,
            load_start=42 * FOOT,
            service_clear_width=18 * INCH,
            emergency_stop=False,
        ),
        _belt(
            *("B1-06", "Truck loadout", _L, "EP 400/3", 30, 250, 20, 64, 9),
            feeds_belt=False,
            tracker_before_head="none",
            pulley_crowned=True,
            side_clearance=2.5 * INCH,
        ),
        _belt(
            *("B1-07", "Weigh belt", _L, "EP 400/3", 36, 120, 0, 22, 0),
            **FLAT,
            exhaust_airflow=0.30,
        ),
        _belt(
            *("B1-08", "Cross belt", _G, "EP 630/4", 30, 380, 35, 95, 4),
            head_transition_length=4.2 * FOOT,
            edge_damage="slight",
            isolation_procedure=False,
        ),
        _belt("B1-09", "Gypsum to bins", _G, "EP 630/4", 30, 380, 35, 155, 30),
    ]
    south = [
        _belt("B2-01", "Coke unloading", _P, "EP 1000/4", 48, 500, 35, 130, 8),
        _belt(
            *("B2-02", "Coke incline", _P, "EP 1000/4", 48, 500, 35, 620, 96),
            tail_tension_ratio=0.92,
            tail_transition_length=9.5 * FOOT,
            chute_back=9 * FOOT,
            load_start=11 * FOOT,
            dust_layer_depth=0.125 * INCH,
        ),
        _belt(
            *("B2-03", "Coke surge feeder belt", _P, "EP 800/4", 42, 180, 35, 30, 0),
            exhaust_airflow=0.4,
            load_support="impact bed",
            spillage_level="heavy",
            cleanup_hours=20,
        ),
        _belt(
            *("B2-04", "Coke to dome", _P, "EP 800/4", 42, 550, 35, 455, 62),
            carry_idler_spacing=5 * FOOT,
            seal_kind="single strip",
            seal_footprint=2 * INCH,
            nip_guards=False,
        ),
        _belt(
            *("B2-05", "Dome reclaim", _P, "EP 800/4", 42, 420, 45, 240, 12),
            chute_width_inside=29 * INCH,
            door_count=1,
            door_width=8 * INCH,
            door_barrier=False,
        ),
        _belt(
            *("B2-06", "Shiploader feed", _P, "ST 1000", 48, 700, 35, 1240, 18),
            tail_transition_length=15 * FOOT,
            belt_mass=None,
            splice_kind=None,
        ),
        _belt(
            *("B2-07", "Pellet receiving", _W, "EP 630/4", 36, 350, 35, 75, 5),
            tail_tension_ratio=None,
            belt_carcass=None,
            secondary_cleaner=False,
            secondary_blade=None,
        ),
        _belt(
            *("B2-08", "Pellet elevator feed", _W, "EP 400/3", 30, 300, 20, 48, 2),
            seal_kind=None,
            seal_footprint=None,
            tracker_before_tail="passive",
            cleaner_duty_selected=None,
        ),
        _belt(
            *("B2-09", "Pellet bin distribution", _W, "EP 400/3", 30, 300, 20, 110, 0),
            tail_pulley_lift="half",
            tail_transition_length=2 * FOOT,
            chute_back=2.4 * FOOT,
            load_start=4 * FOOT,
            door_gasket=False,
        ),
        _belt("B2-10", "Pellet shiploading", _W, "EP 630/4", 36, 500, 35, 330, 15, fill=0.85),
    ]
    return north + south


def _sheet(made: Any, name: str, columns: list[Any], rows_here: list[dict[str, Any]]) -> None:
    heading = made.add_format(
        {"bold": True, "text_wrap": True, "bg_color": "#DDE6EE", "border": 1}
    )
    sheet = made.add_worksheet(name)
    put(sheet, 0, 0, f"Tern Quay, Berths 1 and 2: {name.lower()}")
    put(sheet, 1, 0, INVENTED)
    sheet.set_column(0, len(columns) - 1, 14)
    sheet.freeze_panes(4, 1)
    for column, (key, header, factor, decimals) in enumerate(columns):
        put(sheet, 3, column, header, heading)
        for number, row in enumerate(rows_here, 4):
            value = row.get(key)
            if factor == 0 and value is not None:
                put(sheet, number, column, feet_and_inches(value))
            else:
                put(sheet, number, column, shown(value, factor, decimals, {True: "Y", False: "N"}))


def write(folder: Path) -> None:
    """Write tern_quay_berths_us.xlsx into `folder`."""
    made = book(folder, "tern_quay_berths_us.xlsx", "Tern Quay, Berths 1 and 2: belts")
    every = rows()
    _sheet(made, "Belts and chutes", BELTS_AND_CHUTES, every)
    # The second sheet has one row per conveyor, in the order of the maintenance rounds.
    first = {row["tag"]: row for row in reversed(every)}
    rounds = [first[tag] for tag in sorted(first, key=lambda tag: (tag[-2:], tag))]
    _sheet(made, "Cleaning, tracking, access", CLEANING_TRACKING_ACCESS, rounds)
    made.close()
