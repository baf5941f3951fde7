"""The neutral schema: every field a register may record, one declaration each.

Each field has its SI unit or its words, its meaning, the values that are impossible (a problem,
never used) or doubtful (a problem, used and flagged), the units a bare number may be in, and the
measuring tolerance. Ranges over which missing numbers are bounded stand in `ranges`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = [
    "FIELDS",
    "GROUPS",
    "MEASURING",
    "POSITIONS",
    "Field",
    "Kind",
    "Span",
    "Tolerance",
    "tolerance_of",
]

Kind = Literal["text", "number", "count", "yes/no", "choice", "lift"]


@dataclass(frozen=True, slots=True)
class Span:
    """A range of values; ``low_open``/``high_open`` exclude the end itself."""

    low: float = float("-inf")
    high: float = float("inf")
    low_open: bool = False
    high_open: bool = False

    def holds(self, value: float) -> bool:
        """Whether `value` (a float in the field's SI unit) lies in the range."""
        above = value > self.low if self.low_open else value >= self.low
        below = value < self.high if self.high_open else value <= self.high
        return above and below


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Measuring tolerance: the larger of an absolute part (SI) and a share of the value."""

    absolute: float = 0.0
    relative: float = 0.0


# Catalogue section 1, plant-changeable defaults. [C] common practice, no published source.
MEASURING: Mapping[str, Tolerance] = MappingProxyType(
    {
        "length": Tolerance(0.010, 0.01),
        "wall": Tolerance(0.001),
        "footprint": Tolerance(0.003),
        "side": Tolerance(0.005),
        "dust layer": Tolerance(0.0002),
        "lump": Tolerance(0.0, 0.05),
        "angle": Tolerance(1.0),
        "speed": Tolerance(0.0, 0.02),
        "rate": Tolerance(0.0, 0.05),
        "approximate": Tolerance(0.0, 0.10),
    }
)


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the neutral schema.

    Attributes
    ----------
    key, group, kind
        Public name; heading it stands under; what its cells hold. ``lift`` is a pulley lift:
        a number in metres or one of `POSITIONS`.
    unit
        SI unit of the stored number ("1" for a ratio, "" for words and counts).
    meaning
        Plain words, shown in help texts.
    choices
        The words of a ``choice`` field.
    possible, plausible
        A number outside `possible` is a problem and not used; one outside `plausible` is a
        problem and used.
    customary
        Units in which a number without any unit may have been written.
    measuring
        Key into `MEASURING`; empty for numbers that are not measured.
    stand_in
        Field whose (general) figure serves where this one is missing, recorded as an assumption.
    """

    key: str
    group: str
    kind: Kind
    unit: str
    meaning: str
    choices: tuple[str, ...] = ()
    possible: Span = Span()
    plausible: Span = Span()
    usual: tuple[float, ...] = ()
    customary: tuple[str, ...] = ()
    measuring: str = ""
    stand_in: str = ""

    @property
    def per_belt(self) -> bool:
        """Belt, Layout and Transition fields belong to the conveyor, not to a load point."""
        return self.group in ("Belt", "Layout", "Transition")

    @property
    def numeric(self) -> bool:
        """Whether values are stored as floats in `unit`."""
        return self.kind in ("number", "count", "lift")


# Where the pulley stands relative to the trough: share of the trough depth it is raised by.
POSITIONS: Mapping[str, float] = MappingProxyType(
    {"full trough": 0.0, "one-third": 1 / 3, "half": 1 / 2}
)

_LENGTHS = ("m", "mm", "in")
_SHORT = ("mm", "in", "m")
_LONG = ("m", "ft")


def _build() -> dict[str, Field]:
    fields: dict[str, Field] = {}
    group = ""

    def add(key: str, kind: Kind, unit: str, meaning: str, **more: object) -> None:
        fields[key] = Field(key, group, kind, unit, meaning, **more)  # type: ignore[arg-type]

    def text(key: str, meaning: str) -> None:
        add(key, "text", "", meaning)

    def yes(key: str, meaning: str, **more: object) -> None:
        add(key, "yes/no", "", meaning, **more)

    def choice(key: str, meaning: str, *choices: str) -> None:
        add(key, "choice", "", meaning, choices=choices)

    def count(key: str, meaning: str) -> None:
        add(key, "count", "", meaning, possible=Span(0, 10_000))

    def length(key: str, meaning: str, **more: object) -> None:
        given: dict[str, object] = {"measuring": "length", "customary": _LENGTHS}
        given["possible"] = Span(0)
        add(key, "number", "m", meaning, **(given | more))

    def number(key: str, unit: str, meaning: str, **more: object) -> None:
        add(key, "number", unit, meaning, **more)

    positive = Span(0, low_open=True)

    group = "Identity"
    text("tag", "the conveyor's tag")
    text("area", "plant area")
    text("service", "what the conveyor does")
    text("load_point", "name of the load point on this conveyor")
    text("source_tag", "tag of the equipment that feeds it")
    text("notes", "remarks")
    yes("feeds_belt", "discharges onto another belt")

    group = "Belt"
    length(
        "belt_width",
        "belt width",
        possible=Span(0, 4, low_open=True),
        plausible=Span(0.3, 2.6),
        customary=("m", "mm", "in"),
    )
    number(
        "belt_speed",
        "m/s",
        "belt speed",
        possible=Span(0, 15, low_open=True),
        plausible=Span(0.1, 8),
        customary=("m/s", "ft/min", "m/min"),
        measuring="speed",
    )
    choice("belt_carcass", "belt carcass", "fabric", "steel cord")
    text("belt_designation", "belt designation, such as EP 800/4 or ST 2500")
    number(
        "belt_rated_tension",
        "kN/m",
        "rated (allowable working) tension of the belt per unit width",
        possible=Span(0, 2000, low_open=True),
        customary=("kN/m", "N/mm", "lbf/in"),
        measuring="rate",
    )
    number(
        "belt_nominal_strength",
        "kN/m",
        "nominal (breaking) strength of the belt per unit width; never used as a rating",
        possible=positive,
        customary=("kN/m", "N/mm"),
        measuring="rate",
    )
    ratio: dict[str, object] = {
        "possible": Span(0, 3, low_open=True),
        "plausible": Span(0, 1.2, low_open=True),
        "customary": ("1", "%"),
        "measuring": "rate",
    }
    number(
        "tail_tension_ratio",
        "1",
        "belt tension at the tail as a share of rated tension",
        stand_in="belt_tension_ratio",
        **ratio,
    )
    number(
        "head_tension_ratio",
        "1",
        "belt tension at the head as a share of rated tension",
        stand_in="belt_tension_ratio",
        **ratio,
    )
    number("belt_tension_ratio", "1", "highest belt tension as a share of rated tension", **ratio)
    tension: dict[str, object] = {
        "possible": Span(0),
        "customary": ("kN/m", "N/mm", "lbf/in"),
        "measuring": "rate",
    }
    number("tail_operating_tension", "kN/m", "operating tension at the tail", **tension)
    number("head_operating_tension", "kN/m", "operating tension at the head", **tension)
    number("belt_operating_tension", "kN/m", "highest operating tension", **tension)
    number(
        "belt_modulus",
        "kN/m",
        "elastic modulus of the belt per unit width",
        possible=positive,
        customary=("kN/m", "N/mm", "lbf/in"),
        measuring="rate",
    )
    length("belt_thickness", "belt thickness", customary=("mm", "in"), measuring="wall")
    number(
        "belt_mass",
        "kg/m",
        "mass of the belt per unit length",
        possible=positive,
        customary=("kg/m", "lb/ft"),
        measuring="rate",
    )
    choice("splice_kind", "kind of belt splice", "vulcanised", "mechanical")
    yes("reversing", "the belt runs in both directions")

    group = "Layout"
    length(
        "conveyor_length",
        "pulley centres, tail to head",
        possible=Span(0, 30_000, low_open=True),
        customary=_LONG,
    )
    length(
        "lift",
        "height gained from tail to head; negative is downhill",
        possible=Span(),
        customary=_LONG,
    )
    number(
        "incline",
        "°",
        "slope of the conveyor",
        possible=Span(-90, 90),
        customary=("°",),
        measuring="angle",
    )
    number(
        "trough_angle",
        "°",
        "troughing angle of the carrying idlers; 0 is flat",
        possible=Span(0, 75),
        plausible=Span(10, 60),
        usual=(0.0,),
        customary=("°",),
        measuring="angle",
    )
    count("idler_rolls", "rolls in a carrying idler set")
    length("centre_roll_length", "length of the centre roll", customary=_SHORT)
    spacing: dict[str, object] = {
        "possible": Span(0, 10, low_open=True),
        "customary": ("m", "mm", "ft", "in"),
    }
    length("carry_idler_spacing", "pitch of the carrying idlers", **spacing)
    length("return_idler_spacing", "pitch of the return idlers", **spacing)
    length(
        "pulley_face_tail", "face width of the tail pulley", possible=positive, customary=_SHORT
    )
    length(
        "pulley_face_head", "face width of the head pulley", possible=positive, customary=_SHORT
    )
    yes("pulley_crowned_tail", "tail pulley is crowned", stand_in="pulley_crowned")
    yes("pulley_crowned_head", "head pulley is crowned", stand_in="pulley_crowned")
    yes("pulley_crowned", "pulleys are crowned")

    group = "Transition"
    transition: dict[str, object] = {
        "possible": Span(0, 30, low_open=True),
        "customary": ("m", "mm", "ft", "in"),
    }
    length("tail_transition_length", "tail pulley to the first fully troughed idler", **transition)
    length("head_transition_length", "last fully troughed idler to the head pulley", **transition)
    lift: dict[str, object] = {"customary": _SHORT, "measuring": "length"}
    add(
        "tail_pulley_lift",
        "lift",
        "m",
        "height of the tail pulley's belt line above the "
        "centre-roll line, or full trough, one-third, half",
        **lift,
    )
    add(
        "head_pulley_lift",
        "lift",
        "m",
        "height of the head pulley's belt line above the "
        "centre-roll line, or full trough, one-third, half",
        **lift,
    )
    count("tail_transition_idlers", "transition idlers between tail pulley and first full idler")

    group = "Loading"
    length(
        "load_start", "tail pulley centreline to where material first lands", customary=_LENGTHS
    )
    length("chute_back", "tail pulley centreline to the chute's back plate", customary=_LENGTHS)
    length(
        "chute_width_inside",
        "inside width of the chute at the belt",
        possible=Span(0, 4, low_open=True),
        customary=_SHORT,
    )
    length(
        "chute_wall_thickness",
        "thickness of the chute wall",
        customary=("mm", "in"),
        measuring="wall",
    )
    length("drop_height", "height the material falls", possible=Span(0, 60), customary=_LONG)
    length(
        "lump_size",
        "largest lump",
        possible=Span(0, 2.5),
        customary=("mm", "in"),
        measuring="lump",
    )
    length(
        "material_size_mean",
        "mean size of the material",
        possible=positive,
        customary=("mm", "in"),
        measuring="lump",
    )
    choice("lump_mix", "whether lumps come with fines", "uniform", "with fines")
    text("material", "material carried")
    number(
        "bulk_density",
        "t/m³",
        "bulk density",
        possible=Span(0, 8, low_open=True),
        plausible=Span(0.1, 5),
        customary=("t/m³", "kg/m³", "lb/ft³"),
        measuring="rate",
    )
    number("moisture", "%", "moisture content", possible=Span(0, 100), customary=("%",))
    choice("dust_kind", "kind of dust", "dry dusty", "combustible", "sticky", "wet", "benign")
    number(
        "surcharge_angle",
        "°",
        "surcharge angle of the material on the belt",
        possible=Span(0, 45),
        customary=("°",),
        measuring="angle",
    )
    number(
        "tonnage",
        "t/h",
        "design or usual rate",
        possible=Span(0, 50_000),
        customary=("t/h",),
        measuring="rate",
    )
    length("load_idler_spacing", "idler pitch under the load point", **spacing)
    number(
        "load_belt_tension",
        "kN",
        "belt tension at the load point",
        possible=positive,
        customary=("kN", "lbf"),
        measuring="rate",
    )
    choice(
        "load_support",
        "what carries the belt under the load",
        "idlers",
        "impact idlers",
        "impact bed",
        "slider bed",
    )

    group = "Sealing"
    length("skirt_length", "length of the skirtboards past the load point", customary=_LONG)
    length("skirt_height", "height of the skirtboards", customary=_SHORT)
    choice("seal_kind", "kind of skirt seal", "none", "single strip", "dual lip", "other")
    length(
        "seal_footprint",
        "width of belt the seal rests on, per side",
        customary=("mm", "in"),
        measuring="footprint",
    )
    length(
        "belt_wander",
        "observed wander of the belt, to either side",
        customary=("mm", "in"),
        measuring="side",
    )
    number(
        "exhaust_airflow",
        "m³/s",
        "exhaust air flow at the load point",
        possible=Span(0),
        customary=("m³/s", "m³/h", "ft³/min"),
        measuring="rate",
    )
    number(
        "chute_open_area",
        "m²",
        "open area through which the chute draws air",
        possible=Span(0),
        customary=("m²", "ft²"),
        measuring="rate",
    )

    group = "Cleaning"
    blades = (
        "urethane",
        "rubber",
        "tungsten carbide",
        "stainless steel",
        "ceramic",
        "brush",
        "other",
    )
    yes("primary_cleaner", "a belt cleaner on the head pulley")
    yes("secondary_cleaner", "a belt cleaner after the head pulley")
    yes("tertiary_cleaner", "a further belt cleaner")
    choice("primary_blade", "blade of the primary cleaner", *blades)
    choice("secondary_blade", "blade of the secondary cleaner", *blades)
    choice(
        "cleaner_tensioner",
        "what presses the cleaner to the belt",
        "counterweight",
        "spring",
        "torsion",
        "air",
        "other",
    )
    yes("cleaner_duty_selected", "cleaners chosen for this duty by a competent person, on record")
    yes("cleaner_reversible", "cleaners suit a reversing belt")
    yes("tail_plough", "a plough ahead of the tail pulley")
    residue: dict[str, object] = {
        "possible": Span(0),
        "customary": ("kg/m²", "g/m²"),
        "measuring": "rate",
    }
    number("carryback_initial", "kg/m²", "residue on the belt before any cleaner", **residue)
    number("carryback_measured", "kg/m²", "residue on the belt after the cleaners", **residue)
    number(
        "carryback_target", "kg/m²", "residue the plant accepts", **(residue | {"measuring": ""})
    )
    length("cleaned_width", "width of belt the cleaners wipe", customary=_SHORT)

    group = "Tracking"
    trackers = ("none", "passive", "dynamic")
    choice("tracker_before_tail", "tracking device on the return run before the tail", *trackers)
    choice("tracker_after_load", "tracking device just after the load", *trackers)
    choice("tracker_before_head", "tracking device before the discharge", *trackers)
    length(
        "tracker_spacing_max",
        "longest run of belt with no dynamic tracking device",
        customary=_LONG,
    )
    count("tracker_count", "dynamic tracking devices on the whole belt")
    length(
        "side_clearance",
        "belt edge to nearest structure",
        customary=("mm", "in"),
        measuring="side",
    )
    yes("alignment_switches", "belt misalignment switches fitted")
    choice("edge_damage", "damage to the belt edge", "none", "slight", "severe")

    group = "Access"
    count("door_count", "inspection doors at the load or head chute")
    length("door_width", "clear width of the inspection door", customary=_SHORT)
    length("door_height", "clear height of the inspection door", customary=_SHORT)
    yes("door_gasket", "door has a gasket")
    yes("door_latch", "door has a latch that pulls it shut")
    yes("door_barrier", "fixed, tool-removed mesh or guard behind the opening")
    yes("isolation_procedure", "written isolation procedure")
    yes("nip_guards", "head, tail, drive, take-up and reachable return nips guarded")
    yes("emergency_stop", "emergency stop reachable along the whole travelway")
    length("service_clear_width", "clear width beside cleaners and rollers", customary=_SHORT)
    length("walkway_width", "clear width of the walkway", customary=_SHORT)
    yes("component_reach", "cleaners, seals and rolls reachable without dismantling chutework")

    group = "Housekeeping and cost"
    choice("spillage_level", "spillage found", "none", "light", "heavy")
    length(
        "dust_layer_depth", "depth of settled dust", customary=("mm", "in"), measuring="dust layer"
    )
    number("cleanup_hours", "h/week", "clean-up labour", possible=Span(0), customary=("h/week",))
    number(
        "labour_rate",
        "currency/h",
        "loaded labour rate",
        possible=Span(0),
        customary=("currency/h",),
    )
    number(
        "material_value",
        "currency/t",
        "value of the material",
        possible=Span(0),
        customary=("currency/t",),
    )
    number(
        "operating_hours",
        "h/year",
        "hours run a year",
        possible=Span(0, 8784),
        customary=("h/year",),
    )
    number("spilled_mass", "t/week", "material spilled", possible=Span(0), customary=("t/week",))
    return fields


FIELDS: Mapping[str, Field] = MappingProxyType(_build())
GROUPS: tuple[str, ...] = tuple(dict.fromkeys(field.group for field in FIELDS.values()))


def tolerance_of(field: str, measuring: Mapping[str, Tolerance] = MEASURING) -> Tolerance:
    """Measuring tolerance of `field`; zero where the field is not a measured number."""
    key = FIELDS[field].measuring
    return measuring[key] if key else Tolerance()
