"""The project's catalogue of checks, written a second time: plain Python, one row at a time.

Written from the catalogue and its tables alone, without the package, so that the two can be
compared: nothing here may import from ``sheetcheck``. A row is a dict of field to value in SI: a
float, a bool, a word, a `Range`, an `About` (a number marked approximate), or absent.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

MEETS, MARGINAL, SHORT = "meets", "marginal", "falls short"
OPEN, NOT_APPLICABLE, INFORMATION = "not judged", "not applicable", "information"
WORST_FIRST = (SHORT, OPEN, MARGINAL, MEETS, NOT_APPLICABLE)

INCH, FOOT, GRAVITY = 0.0254, 0.3048, 9.80665
CFM = FOOT**3 / 60
POUND_PER_CUBIC_FOOT = 0.45359237 / FOOT**3 / 1000  # t/m³
SLACK = 1e-9
# NIOSH RI 9689, eq. 5.3, 10·A_u·(R·S²/D)^⅓ cfm in ft and short tons/h; 0.07798 to four digits.
INDUCED = 10 / FOOT**2 * CFM * (1000 / 2000 / 0.45359237 / FOOT) ** (1 / 3)

Values = dict[str, Any]


class Range(NamedTuple):
    """A recorded range, or what a quantity was found to be over several cases."""

    low: float
    high: float


class About(NamedTuple):
    """A number that is marked approximate."""

    value: float


class NoSuchThingError(Exception):
    """The conveyor has no such feature."""


class OutsideError(Exception):
    """The case lies outside the method."""


class MissingError(Exception):
    """A required input is missing."""


# --- measuring tolerance (section 1) -----------------------------------------------------------

_ANGLES = ("trough_angle", "surcharge_angle")
_SHARES = [
    "tonnage",
    "bulk_density",
    "belt_mass",
    "load_belt_tension",
    "belt_modulus",
    "belt_rated_tension",
    "tail_tension_ratio",
    "head_tension_ratio",
    "belt_tension_ratio",
    "tail_operating_tension",
    "head_operating_tension",
    "belt_operating_tension",
]
_FIXED = {
    "chute_wall_thickness": 0.001,
    "seal_footprint": 0.003,
    "belt_wander": 0.005,
    "side_clearance": 0.005,
    "dust_layer_depth": 0.0002,
}


def tolerance(name: str, value: float, about: bool = False) -> float:
    if name in _FIXED:
        own = _FIXED[name]
    elif name in _ANGLES:
        own = 1.0
    elif name == "belt_speed":
        own = 0.02 * abs(value)
    elif name in ("lump_size", "material_size_mean") or name in _SHARES:
        own = 0.05 * abs(value)
    else:
        own = max(0.010, 0.01 * abs(value))
    return max(own, 0.10 * abs(value)) if about else own


# --- geometry (section 3) ----------------------------------------------------------------------


def _sin(degrees: float) -> float:
    return math.sin(math.radians(degrees))


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def centre(v: Values) -> float:
    if v.get("idler_rolls") == 2:
        return 0.0
    known = v.get("centre_roll_length")
    return v["belt_width"] / 3 if known is None else known


def wing(v: Values) -> float:
    if v["belt_width"] < centre(v):
        raise OutsideError  # a roll wider than the belt
    return (v["belt_width"] - centre(v)) / 2


def troughed_width(v: Values) -> float:
    return centre(v) + 2 * wing(v) * _cos(v["trough_angle"])


def trough_depth(v: Values) -> float:
    return wing(v) * _sin(v["trough_angle"])


def edge_distance(width: float) -> float:
    return 0.055 * width + 0.9 * INCH


def cema_area(width: float, trough: float, surcharge: float) -> float:
    """CEMA load area in m²: trapezium on three rolls under a circular top."""
    middle = 0.371 * width + 0.25 * INCH
    loaded = (width - middle) / 2 - edge_distance(width)
    below = (middle + loaded * _cos(trough)) * loaded * _sin(trough)
    chord = middle + 2 * loaded * _cos(trough)
    angle = math.radians(surcharge)
    if angle == 0:
        return below
    radius = chord / (2 * math.sin(angle))
    return below + radius**2 * (angle - math.sin(angle) * math.cos(angle))


def _factors() -> dict[tuple[str, str, int, str], tuple[float, float | None]]:
    with (Path(__file__).parent / "transition_factors.csv").open(encoding="utf-8") as file:
        return {
            (
                line["pulley_position"],
                line["carcass"],
                int(line["trough_deg"]),
                line["tension_band"],
            ): (
                float(line["factor_of_belt_width"]),
                float(line["disputed_low"]) if line["disputed_low"] else None,
            )
            for line in csv.DictReader(file)
        }


FACTORS = _factors()
SHARE_OF_DEPTH = {"full trough": 0.0, "one-third": 1 / 3, "half": 1 / 2}


def at_most(value: float, limit: float) -> bool:
    """Whether `value` is no more than `limit`, but for rounding."""
    return value <= limit + SLACK * max(abs(value), abs(limit))


# --- what a check says of one set of single values ---------------------------------------------


@dataclass
class Part:
    """One requirement: short below `short_below` of its margin, met from `met_from` on."""

    margin: float
    scale: float
    short_below: float = 0.0
    met_from: float = 0.0


@dataclass
class Said:
    found: float | Range | None = None
    required: float | None = None
    parts: list[Part] = field(default_factory=list)
    missing: bool = False
    at_best: str = MEETS
    band: str = ""


def _least(found: float, required: float, **more: float) -> Said:
    return Said(found, required, [Part(found - required, max(abs(found), abs(required)), **more)])


def _most(found: float, required: float, **more: float) -> Said:
    return Said(found, required, [Part(required - found, max(abs(found), abs(required)), **more)])


def _word(band: str) -> Said:
    return Said(band=band)


def _need(v: Values, *names: str) -> None:
    if any(v.get(name) is None for name in names):
        raise MissingError


def _not_flat(v: Values) -> None:
    if v.get("trough_angle") == 0:
        raise NoSuchThingError


def _rolls(v: Values, *allowed: int) -> None:
    if v.get("idler_rolls") is not None and v["idler_rolls"] not in allowed:
        raise OutsideError


def ratio_of(v: Values, end: str) -> float | None:
    """Tension at an end as a share of rated, by the figure that comes first."""
    for name in (end, "belt"):
        if v.get(f"{name}_tension_ratio") is not None:
            return v[f"{name}_tension_ratio"]
        if (
            v.get(f"{name}_operating_tension") is not None
            and v.get("belt_rated_tension") is not None
        ):
            return v[f"{name}_operating_tension"] / v["belt_rated_tension"]
    return None


def _own_ratio(v: Values, end: str) -> bool:
    return (
        ratio_of(
            {
                k: x
                for k, x in v.items()
                if not k.startswith("belt_tension") and k != "belt_operating_tension"
            },
            end,
        )
        is not None
    )


def _factor(v: Values, end: str) -> tuple[float, float | None]:
    trough = v["trough_angle"]
    if not at_most(trough, 45):
        raise OutsideError
    row = next(step for step in (20, 35, 45) if at_most(trough, step))
    ratio = ratio_of(v, end)
    lift = v.get(f"{end}_pulley_lift")
    if ratio is None or lift is None:
        raise MissingError
    band = (
        "under 60 %"
        if not at_most(0.6, ratio)
        else "60 to 90 %"
        if at_most(ratio, 0.9)
        else "over 90 %"
    )
    if isinstance(lift, str):
        position = lift
    else:
        depth = trough_depth(v)
        if lift < 0 or not at_most(lift, depth / 2):
            raise OutsideError
        position = (
            "half"
            if at_most(depth / 2, lift)
            else "one-third"
            if at_most(depth / 3, lift)
            else "full trough"
        )
    name = {"full trough": "full trough", "one-third": "one-third trough", "half": "half trough"}[
        position
    ]
    return FACTORS[name, v["belt_carcass"], row, band]


def transition_length(end: str) -> Callable[[Values, Values], Said]:
    name = f"{end}_transition_length"

    def check(v: Values, nominal: Values) -> Said:
        _not_flat(v)
        _rolls(v, 3)
        if v.get("trough_angle") is not None and not at_most(v["trough_angle"], 45):
            raise OutsideError
        _need(v, "trough_angle", "belt_width")
        factor, disputed = _factor(nominal, end)
        _need(v, name)
        width = v["belt_width"]
        return _least(
            v[name],
            factor * width,
            short_below=0.0 if disputed is None else (disputed - factor) * width,
        )

    return check


_NODES: list[tuple[float, float]] = []


def _gauss(count: int = 12) -> list[tuple[float, float]]:
    """Gauss-Legendre nodes and weights on 0…1."""
    if not _NODES:
        for k in range(1, count + 1):
            x = math.cos(math.pi * (k - 0.25) / (count + 0.5))
            for _ in range(100):
                below, now = 1.0, x
                for n in range(2, count + 1):
                    below, now = now, ((2 * n - 1) * x * now - (n - 1) * below) / n
                slope = count * (x * now - below) / (x * x - 1)
                x -= now / slope
                if abs(now / slope) < 1e-15:
                    break
            _NODES.append(((1 + x) / 2, 1 / ((1 - x * x) * slope * slope)))
    return _NODES


def strains(length: float, v: Values, lift: float) -> tuple[float, float, float]:
    """Largest, least and mean strain across the belt; fibre model."""
    a, c, trough = wing(v), centre(v), v["trough_angle"]
    bend, rise = 2 * (1 - _cos(trough)), _sin(trough)

    def strain(s: float) -> float:
        q = (bend * s * s - 2 * s * lift * rise + lift * lift) / length**2
        return q / (1 + math.sqrt(1 + q))

    lowest = min(max(lift * rise / bend, 0.0), a) if bend > 0 else 0.0
    mean = (c * strain(0) + 2 * a * sum(w * strain(a * x) for x, w in _gauss())) / v["belt_width"]
    return max(strain(0), strain(a)), strain(lowest), mean


def transition_tension(end: str) -> Callable[[Values, Values], Said]:
    name = f"{end}_transition_length"

    def check(v: Values, nominal: Values) -> Said:
        _not_flat(v)
        _rolls(v, 2, 3)
        _need(v, name, "belt_width", "trough_angle", "belt_rated_tension", f"{end}_pulley_lift")
        ratio, rated = ratio_of(v, end), v["belt_rated_tension"]
        if ratio is None:
            raise MissingError
        modulus = v.get("belt_modulus")
        if modulus is None:
            modulus = v["modulus_of_rated"] * nominal["belt_rated_tension"]
        lift = v[f"{end}_pulley_lift"]
        if isinstance(lift, str):
            lift = SHARE_OF_DEPTH[lift] * trough_depth(v)
        most, least, mean = strains(v[name], v, lift)
        peak = ratio + modulus * (most - mean) / rated
        slack = ratio + modulus * (least - mean) / rated
        said = _most(peak, 1.15, short_below=-0.15)
        said.parts.append(Part(slack, max(abs(slack), ratio)))
        if end == "tail" and not _own_ratio(v, end):
            said.at_best = MARGINAL
        return said

    return check


def transition_loading(v: Values, nominal: Values) -> Said:
    _not_flat(v)
    places = [v[name] for name in ("chute_back", "load_start") if v.get(name) is not None]
    if not places:
        raise MissingError
    _need(v, "tail_transition_length")
    return _least(min(places), v["tail_transition_length"])


def transition_idlers(v: Values, nominal: Values) -> Said:
    if v.get("trough_angle") is not None and at_most(v["trough_angle"], 20):
        raise NoSuchThingError
    _need(v, "trough_angle", "tail_transition_idlers")
    return _word(MEETS if v["tail_transition_idlers"] >= 1 else SHORT)


# --- loading -----------------------------------------------------------------------------------


def load_width(v: Values, nominal: Values) -> Said:
    _need(v, "chute_width_inside", "belt_width")
    return _most(v["chute_width_inside"], 2 / 3 * v["belt_width"])


def load_lump(v: Values, nominal: Values) -> Said:
    surcharge, fines = v.get("surcharge_angle"), v["lump_mix"] == "with fines"
    if surcharge is not None and not at_most(surcharge, 30):
        raise OutsideError
    _need(v, "lump_size")
    limits = []
    if v.get("belt_width") is not None and surcharge is not None:
        share = (3 if fines else 5) if at_most(surcharge, 20) else (6 if fines else 10)
        limits.append(v["belt_width"] / share)
    complete = bool(limits)
    if v.get("chute_width_inside") is not None:
        limits.append(v["chute_width_inside"] / (2 if fines else 3.5))
    if not limits:
        raise MissingError
    said = _most(v["lump_size"], min(limits))
    said.missing = not complete
    return said


def load_fill(v: Values, nominal: Values) -> Said:
    _not_flat(v)
    _rolls(v, 3)
    _need(
        v, "tonnage", "bulk_density", "belt_speed", "belt_width", "trough_angle", "surcharge_angle"
    )
    area = v["tonnage"] / 3600 / v["bulk_density"] / v["belt_speed"]
    share = area / cema_area(v["belt_width"], v["trough_angle"], v["surcharge_angle"])
    return _most(share, 1.0, met_from=0.2)


def sag(v: Values, pitch: str) -> float:
    _need(v, "belt_mass", "tonnage", "belt_speed", "load_belt_tension", pitch)
    weight = v["belt_mass"] + v["tonnage"] / 3.6 / v["belt_speed"]
    return weight * GRAVITY * v[pitch] / (8 * v["load_belt_tension"] * 1000)


def load_support(v: Values, nominal: Values) -> Said:
    if v["load_support"] in ("impact bed", "slider bed"):
        return Said(None, 0.01, band=MARGINAL)  # no number decides
    return _most(sag(v, "load_idler_spacing"), 0.01)


def load_impact(v: Values, nominal: Values) -> Said:
    if any(v.get(name) is None for name in ("lump_size", "bulk_density", "drop_height")):
        return Said()
    mass = 0.6 * 1.6 * v["bulk_density"] * 1000 * v["lump_size"] ** 3
    return Said(mass * GRAVITY * v["drop_height"])


# --- sealing -----------------------------------------------------------------------------------


def _free_edge(v: Values) -> float:
    return (troughed_width(v) - v["chute_width_inside"] - 2 * v["chute_wall_thickness"]) / 2


def _edge_needed(v: Values) -> float:
    edge = edge_distance(v["belt_width"])
    if v.get("seal_footprint") is not None:
        return max(edge, v["seal_footprint"])
    if v["seal_kind"] == "other":
        raise MissingError
    return max(edge, 0.075) if v["seal_kind"] == "dual lip" else edge


def seal_edge(v: Values, nominal: Values) -> Said:
    _rolls(v, 2, 3)
    _need(v, "chute_width_inside", "belt_width", "trough_angle")
    return _least(_free_edge(v), _edge_needed(v))


def seal_wander(v: Values, nominal: Values) -> Said:
    if v["seal_kind"] == "none":
        raise NoSuchThingError
    _rolls(v, 2, 3)
    _need(v, "chute_width_inside", "belt_width", "trough_angle", "belt_wander", "seal_footprint")
    return _least(_free_edge(v) - v["belt_wander"], v["seal_footprint"])


def seal_chute_max(v: Values, nominal: Values) -> Said:
    try:
        _rolls(v, 2, 3)
        _need(v, "belt_width", "trough_angle")
        wall = v.get("chute_wall_thickness")
        wall = 0.012 if wall is None else wall
        widest = troughed_width(v) - 2 * _edge_needed(v) - 2 * wall
        return Said(None, min(2 / 3 * v["belt_width"], widest))
    except (MissingError, OutsideError):
        return Said()


def seal_length(v: Values, nominal: Values) -> Said:
    _need(v, "skirt_length", "belt_speed", "belt_width")
    rules = (1.2 * v["belt_speed"], 1.524 + 0.6 * v["belt_speed"], 4 * v["belt_width"])
    return _least(v["skirt_length"], max(rules), short_below=min(rules) - max(rules))


DUSTY = ("dry dusty", "combustible")


def seal_kind(v: Values, nominal: Values) -> Said:
    if v["seal_kind"] == "other":
        raise OutsideError
    if v["dust_kind"] in DUSTY:
        return _word({"none": SHORT, "single strip": MARGINAL, "dual lip": MEETS}[v["seal_kind"]])
    return _word(MARGINAL if v["seal_kind"] == "none" else MEETS)


def seal_air(v: Values, nominal: Values) -> Said:
    guide = None
    whole = True
    if v.get("belt_width") is not None and v.get("belt_speed") is not None:
        slow = not at_most(200 * FOOT / 60, v["belt_speed"])
        guide = (350 if slow else 500) * CFM * v["belt_width"] / FOOT
        if v["dust_kind"] in DUSTY:
            if v.get("drop_height") is None:
                whole = False
            elif not at_most(v["drop_height"], 3 * FOOT):
                guide += (700 if at_most(v["belt_width"], 36 * INCH) else 1000) * CFM
    asked = [] if guide is None else [guide]
    opening = v.get("chute_open_area")
    if opening is not None:
        asked.append(opening * 0.762)
    try:
        _need(v, "tonnage", "bulk_density", "drop_height", "material_size_mean", "chute_open_area")
        if at_most(v["material_size_mean"], 0.003):
            raise OutsideError
        pull = v["tonnage"] * v["drop_height"] ** 2 / v["material_size_mean"]
        asked.append(v["tonnage"] / v["bulk_density"] / 3600 + INDUCED * opening * pull ** (1 / 3))
    except (MissingError, OutsideError):
        whole = False
    if v.get("exhaust_airflow") is None:
        return Said(None, max(asked) if guide is not None else None, band=INFORMATION)
    if guide is None:
        raise MissingError
    said = _least(v["exhaust_airflow"], max(asked))
    said.at_best = MEETS if whole else MARGINAL
    return said


# --- cleaning ----------------------------------------------------------------------------------

METAL = ("tungsten carbide", "stainless steel")


def cleaning_stages(v: Values, nominal: Values) -> Said:
    return _word(MEETS if v["primary_cleaner"] and v["secondary_cleaner"] else SHORT)


def cleaning_blade(v: Values, nominal: Values) -> Said:
    if not v["secondary_cleaner"]:
        raise NoSuchThingError
    blade = v["secondary_blade"]
    if blade in METAL:
        return _word(MARGINAL if v.get("splice_kind") == "mechanical" else MEETS)
    return _word(SHORT if blade in ("urethane", "rubber") else MARGINAL)


def cleaning_duty(v: Values, nominal: Values) -> Said:
    speed, width = v.get("belt_speed"), v.get("belt_width")
    counterweight = v.get("cleaner_tensioner") == "counterweight" and (
        (speed is not None and not at_most(speed, 350 * FOOT / 60))
        or (width is not None and not at_most(width, 36 * INCH))
    )
    reversing, suits = v.get("reversing"), v.get("cleaner_reversible")
    if v["cleaner_duty_selected"] is False or counterweight or (reversing and suits is False):
        return _word(SHORT)
    if reversing and suits is None:
        raise MissingError
    return _word(MEETS)


def cleaning_carryback(v: Values, nominal: Values) -> Said:
    low = high = v.get("carryback_measured")
    if low is None and v.get("carryback_initial") is not None:
        first, second = v["primary_cleaner"], v["secondary_cleaner"]
        if first and second:
            taken = (0.9, 0.9) if v["secondary_blade"] in METAL else (0.4, 0.9)
        else:
            taken = (0.4, 0.5) if first or second else (0.0, 0.0)
        low, high = (v["carryback_initial"] * (1 - taken[k]) for k in (1, 0))
    found = None if low is None else Range(low, high)
    target = v.get("carryback_target")
    if target is None:
        return Said(found, None, band=INFORMATION)
    if low is None:
        raise MissingError
    said = Said(found, target)
    said.band = MEETS if at_most(high, target) else MARGINAL if at_most(low, target) else SHORT
    return said


# --- tracking ----------------------------------------------------------------------------------


def _crowned(v: Values, end: str) -> bool | None:
    own = v.get(f"pulley_crowned_{end}")
    return v.get("pulley_crowned") if own is None else own


def tracking_places(v: Values, nominal: Values) -> Said:
    def place(name: str, end: str = "") -> str:
        word = v[name]
        return "passive" if word == "none" and end and _crowned(v, end) else word

    tail, head = place("tracker_before_tail", "tail"), place("tracker_before_head", "head")
    load = place("tracker_after_load")
    if "none" in (tail, load):
        return _word(SHORT)
    if head == "none":
        return _word(SHORT if v["feeds_belt"] else MARGINAL)
    return _word(MARGINAL if "passive" in (tail, load, head) else MEETS)


_PLACES = ("tracker_before_tail", "tracker_after_load", "tracker_before_head")


def tracking_reach(v: Values, nominal: Values) -> Said:
    run = v.get("tracker_spacing_max")
    if run is None:
        steered = [v.get(name) for name in _PLACES]
        if v.get("tracker_count") or None in steered or "dynamic" in steered:
            raise MissingError
        _need(v, "conveyor_length")
        run = 2 * v["conveyor_length"]
    return _most(run, 21.336, short_below=21.336 - 45.72)


def tracking_face(v: Values, nominal: Values) -> Said:
    _need(v, "belt_width")
    width = v["belt_width"]
    narrow = at_most(width, 1.0668)
    if narrow:
        _need(v, "conveyor_length")
    needed = 0.15 if not narrow else 0.1 if at_most(152.4, v["conveyor_length"]) else 0.075
    faces = [v.get("pulley_face_tail"), v.get("pulley_face_head")]
    known = [face - width for face in faces if face is not None]
    if not known:
        raise MissingError
    said = _least(min(known), needed)
    said.parts[0].scale = width  # a difference of two widths: rounding is theirs
    said.missing = len(known) < 2
    return said


def tracking_clearance(v: Values, nominal: Values) -> Said:
    _need(v, "side_clearance")
    clear, wander = v["side_clearance"], v.get("belt_wander")
    said = _least(clear, 0.075 if wander is None else max(0.075, wander))
    if wander is not None and at_most(clear, wander):
        said.band = SHORT
    return said


def tracking_crown(v: Values, nominal: Values) -> Said:
    if not _crowned(v, "tail") and not _crowned(v, "head"):
        raise NoSuchThingError
    return _word(SHORT if v["belt_carcass"] == "steel cord" else MEETS)


def by_word(name: str, **bands: str) -> Callable[[Values, Values], Said]:
    return lambda v, nominal: _word(bands[v[name]])


def by_yes(name: str, door: bool = False) -> Callable[[Values, Values], Said]:
    def check(v: Values, nominal: Values) -> Said:
        if door and v.get("door_count") == 0:
            raise NoSuchThingError
        return _word(MEETS if v[name] else SHORT)

    return check


# --- access, housekeeping ----------------------------------------------------------------------


def access_opening(v: Values, nominal: Values) -> Said:
    if v.get("door_count") == 0:
        return Said(None, 0.3, band=SHORT)
    sides = [v[name] for name in ("door_width", "door_height") if v.get(name) is not None]
    _need(v, "door_count")
    if not sides:
        raise MissingError
    said = Said(min(sides), 0.3)
    if not at_most(0.3, min(sides)):
        said.band = MARGINAL
    elif len(sides) < 2:
        raise MissingError
    else:
        said.band = MEETS
    return said


def access_closure(v: Values, nominal: Values) -> Said:
    if v.get("door_count") == 0:
        raise NoSuchThingError
    return _word((SHORT, MARGINAL, MEETS)[bool(v["door_gasket"]) + bool(v["door_latch"])])


def access_stop(v: Values, nominal: Values) -> Said:
    if v["emergency_stop"]:
        return _word(MEETS)
    return _word(MARGINAL if v.get("travelway_railing") else SHORT)


def access_service(v: Values, nominal: Values) -> Said:
    width = v.get("service_clear_width")
    said = Said(None, 0.6) if width is None else _least(width, 0.6)
    said.missing = width is None
    if not v["component_reach"]:
        said.band = SHORT
    return said


def housekeeping_dust(v: Values, nominal: Values) -> Said:
    if v["dust_kind"] != "combustible":
        raise NoSuchThingError
    _need(v, "dust_layer_depth", "bulk_density")
    density = v["bulk_density"] / POUND_PER_CUBIC_FOOT
    return _most(v["dust_layer_depth"], INCH / 32 * max(1.0, 75 / density))


def housekeeping_cost(v: Values, nominal: Values) -> Said:
    names = ("cleanup_hours", "labour_rate", "spilled_mass", "material_value")
    if any(v.get(name) is None for name in names):
        return Said()
    hours, rate, mass, value = (v[name] for name in names)
    return Said(52 * (hours * rate + mass * value))


# --- the checks: what is sought over all its values, what is measured --------------------------


@dataclass(frozen=True)
class Check:
    """How a check judges, the words sought over all their values, and its numbers."""

    says: Callable[[Values, Values], Said]
    words: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    guarded: bool = False
    per_belt: bool = False
    information: bool = False


YES = (True, False)
WORDS: dict[str, tuple[Any, ...]] = {
    "belt_carcass": ("fabric", "steel cord"),
    "lump_mix": ("uniform", "with fines"),
    "load_support": ("idlers", "impact idlers", "impact bed", "slider bed"),
    "seal_kind": ("none", "single strip", "dual lip"),
    "dust_kind": ("dry dusty", "combustible", "sticky", "wet", "benign"),
    "secondary_blade": (
        "urethane",
        "rubber",
        "tungsten carbide",
        "stainless steel",
        "ceramic",
        "brush",
    ),
    "edge_damage": ("none", "slight", "severe"),
    "spillage_level": ("none", "light", "heavy"),
    **dict.fromkeys(_PLACES, ("none", "passive", "dynamic")),
}

_RATIO = "belt_tension_ratio", "belt_operating_tension", "belt_rated_tension"
_SECTION = ("belt_width", "trough_angle", "centre_roll_length")


def _length_inputs(end: str) -> tuple[str, ...]:
    return (
        f"{end}_transition_length",
        *_SECTION,
        f"{end}_tension_ratio",
        f"{end}_operating_tension",
        *_RATIO,
        f"{end}_pulley_lift",
    )


_STREAM = ("belt_mass", "tonnage", "belt_speed", "load_belt_tension")

CHECKS: dict[str, Check] = {
    **{
        f"transition-length-{end}": Check(
            transition_length(end),
            ("belt_carcass",),
            _length_inputs(end),
            guarded=True,
            per_belt=True,
        )
        for end in ("tail", "head")
    },
    **{
        f"transition-tension-{end}": Check(
            transition_tension(end),
            (),
            (*_length_inputs(end), "belt_modulus"),
            guarded=True,
            per_belt=True,
        )
        for end in ("tail", "head")
    },
    "transition-loading": Check(
        transition_loading,
        (),
        ("chute_back", "load_start", "tail_transition_length", "trough_angle"),
        guarded=True,
    ),
    "transition-idlers": Check(
        transition_idlers, (), ("trough_angle", "tail_transition_idlers"), per_belt=True
    ),
    "load-width": Check(load_width, (), ("chute_width_inside", "belt_width")),
    "load-lump": Check(
        load_lump,
        ("lump_mix",),
        ("lump_size", "belt_width", "surcharge_angle", "chute_width_inside"),
    ),
    "load-fill": Check(
        load_fill,
        (),
        ("tonnage", "bulk_density", "belt_speed", "belt_width", "trough_angle", "surcharge_angle"),
    ),
    "load-support": Check(
        load_support, ("load_support",), (*_STREAM, "load_idler_spacing"), guarded=True
    ),
    "load-impact": Check(
        load_impact, (), ("lump_size", "bulk_density", "drop_height"), information=True
    ),
    "seal-edge": Check(
        seal_edge,
        ("seal_kind",),
        (*_SECTION, "chute_width_inside", "chute_wall_thickness", "seal_footprint"),
        guarded=True,
    ),
    "seal-wander": Check(
        seal_wander,
        ("seal_kind",),
        (*_SECTION, "chute_width_inside", "chute_wall_thickness", "seal_footprint", "belt_wander"),
        guarded=True,
    ),
    "seal-chute-max": Check(
        seal_chute_max,
        ("seal_kind",),
        (*_SECTION, "chute_wall_thickness", "seal_footprint"),
        information=True,
    ),
    "seal-length": Check(seal_length, (), ("skirt_length", "belt_speed", "belt_width")),
    "seal-kind": Check(seal_kind, ("dust_kind", "seal_kind")),
    "seal-air": Check(
        seal_air,
        ("dust_kind",),
        (
            "belt_width",
            "belt_speed",
            "exhaust_airflow",
            "tonnage",
            "bulk_density",
            "drop_height",
            "material_size_mean",
            "chute_open_area",
        ),
    ),
    "cleaning-stages": Check(
        cleaning_stages, ("primary_cleaner", "secondary_cleaner"), per_belt=True
    ),
    "cleaning-blade": Check(
        cleaning_blade, ("secondary_cleaner", "secondary_blade"), per_belt=True
    ),
    "cleaning-duty": Check(
        cleaning_duty, ("cleaner_duty_selected",), ("belt_speed", "belt_width"), per_belt=True
    ),
    "cleaning-carryback": Check(
        cleaning_carryback,
        ("primary_cleaner", "secondary_cleaner", "secondary_blade"),
        ("carryback_measured", "carryback_initial", "carryback_target"),
        per_belt=True,
    ),
    "cleaning-plough": Check(by_yes("tail_plough"), ("tail_plough",), per_belt=True),
    "tracking-places": Check(tracking_places, (*_PLACES, "feeds_belt"), per_belt=True),
    "tracking-reach": Check(
        tracking_reach,
        (),
        ("tracker_spacing_max", "conveyor_length", "tracker_count"),
        per_belt=True,
    ),
    "tracking-face": Check(
        tracking_face,
        (),
        ("belt_width", "conveyor_length", "pulley_face_tail", "pulley_face_head"),
        per_belt=True,
    ),
    "tracking-clearance": Check(
        tracking_clearance, (), ("side_clearance", "belt_wander"), per_belt=True
    ),
    "tracking-crown": Check(
        tracking_crown,
        ("belt_carcass", "pulley_crowned_tail", "pulley_crowned_head"),
        per_belt=True,
    ),
    "tracking-edge": Check(
        by_word("edge_damage", none=MEETS, slight=MARGINAL, severe=SHORT),
        ("edge_damage",),
        per_belt=True,
    ),
    "tracking-switches": Check(
        by_yes("alignment_switches"), ("alignment_switches",), per_belt=True
    ),
    "access-opening": Check(access_opening, (), ("door_count", "door_width", "door_height")),
    "access-closure": Check(access_closure, ("door_gasket", "door_latch")),
    "access-barrier": Check(by_yes("door_barrier", door=True), ("door_barrier",)),
    "access-isolation": Check(by_yes("isolation_procedure"), ("isolation_procedure",)),
    "access-guard": Check(by_yes("nip_guards"), ("nip_guards",)),
    "access-stop": Check(access_stop, ("emergency_stop",)),
    "access-service": Check(access_service, ("component_reach",), ("service_clear_width",)),
    "housekeeping-spillage": Check(
        by_word("spillage_level", none=MEETS, light=MARGINAL, heavy=SHORT), ("spillage_level",)
    ),
    "housekeeping-dust": Check(
        housekeeping_dust, ("dust_kind",), ("dust_layer_depth", "bulk_density"), guarded=True
    ),
    "housekeeping-cost": Check(
        housekeeping_cost,
        (),
        ("cleanup_hours", "labour_rate", "spilled_mass", "material_value"),
        information=True,
    ),
}

# Tolerance moves no row, column or position of the factor table.
_MEASURED_LENGTH = {
    "tail": ("tail_transition_length", "belt_width"),
    "head": ("head_transition_length", "belt_width"),
}


# --- bounding (section 1) ----------------------------------------------------------------------

Options = list[Values]


def _modulus_options(row: Mapping[str, Any]) -> Options:
    text = str(row.get("belt_designation") or "").upper()
    kinds = {
        "EP": (50.0, 100.0),
        "NN": (40.0, 65.0),
        "fabric": (40.0, 100.0),
        "steel cord": (450.0, 500.0),
    }
    if row.get("belt_carcass") == "steel cord":
        chosen = ["steel cord"]
    elif row.get("belt_carcass") == "fabric":
        chosen = ["EP" if text.startswith("EP") else "NN" if text.startswith("NN") else "fabric"]
    else:
        chosen = ["fabric", "steel cord"]
    return [{"modulus_of_rated": end} for kind in chosen for end in kinds[kind]]


def _rating_options(row: Mapping[str, Any]) -> Options:
    by = {"fabric": (8.0, 12.0), "steel cord": (6.5, 10.0)}[row["belt_carcass"]]
    return [{"belt_rated_tension": row["belt_nominal_strength"] / divisor} for divisor in by]


def unknowns(key: str, row: Values) -> list[Options]:
    """What is not recorded, each with the values that it is sought over."""
    check = CHECKS[key]
    found: list[Options] = []
    missing = lambda name: row.get(name) is None  # noqa: E731
    for name in check.words:
        if not missing(name) or _unneeded(key, name, row):
            continue
        found.append([{name: word} for word in WORDS.get(name, YES)])
    if key.startswith("transition-") and key[-4:] in ("tail", "head"):
        end = key[-4:]
        if missing(f"{end}_pulley_lift"):
            found.append([{f"{end}_pulley_lift": word} for word in SHARE_OF_DEPTH])
        pulled = not missing(f"{end}_operating_tension") or not missing("belt_operating_tension")
        ratio = not missing(f"{end}_tension_ratio") or not missing("belt_tension_ratio")
        tension = key.startswith("transition-tension")
        # Each carcass has its own divisor: without it a strength tells nothing of the rating.
        known = not missing("belt_nominal_strength") and not missing("belt_carcass")
        bounded = missing("belt_rated_tension") and known
        if bounded and (tension or (pulled and missing(f"{end}_tension_ratio"))):
            found.append(_rating_options(row))
        rated = not missing("belt_rated_tension") or bounded
        if not tension and not ratio and not (pulled and rated):
            found.append([{f"{end}_tension_ratio": share} for share in (0.95, 0.75, 0.45)])
        if tension and missing("belt_modulus"):
            found.append(_modulus_options(row))
    if (
        "chute_wall_thickness" in check.numbers
        and missing("chute_wall_thickness")
        and not check.information
    ):
        found.append([{"chute_wall_thickness": wall} for wall in (0.0, 0.012)])
    if "load_idler_spacing" in check.numbers and missing("load_idler_spacing"):
        found.append([{"load_idler_spacing": pitch} for pitch in (0.3, 1.5)])
    if key == "tracking-face" and missing("conveyor_length"):
        found.append([{"conveyor_length": length} for length in (100.0, 200.0)])
    return found


def _unneeded(key: str, name: str, row: Values) -> bool:
    """Whether a missing word can make no difference, as another input decides."""
    if name == "seal_kind" and key in ("seal-edge", "seal-chute-max"):
        return row.get("seal_footprint") is not None
    if key == "cleaning-carryback":
        settled = row.get("carryback_measured") is not None or row.get("carryback_initial") is None
        one_stage = False in (row.get("primary_cleaner"), row.get("secondary_cleaner"))
        return settled or (name == "secondary_blade" and one_stage)
    if name.startswith("pulley_crowned_"):
        return row.get("pulley_crowned") is not None
    return False


FOOTPRINTS = {"single strip": (0.025, 0.050), "dual lip": (0.075, 0.100)}


@dataclass
class Verdict:
    band: str
    found: Range | None = None
    required: Range | None = None
    uncertainty: Range | None = None


class _Case(NamedTuple):
    band: str
    found: float | Range | None = None
    required: float | None = None
    uncertainty: float | None = None
    outside: bool = False


def _band(said: Said, guards: list[float]) -> str:
    if said.band:
        return said.band
    bands = []
    for part, guard in zip(said.parts, guards, strict=True):
        slack = SLACK * part.scale
        if part.margin < part.short_below - slack:
            bands.append(SHORT)
        elif part.margin < max(part.met_from, guard) - slack:
            bands.append(MARGINAL)
        else:
            bands.append(MEETS)
    if said.missing and SHORT not in bands:
        return OPEN
    return min([*bands, said.at_best], key=WORST_FIRST.index)


def _measured(key: str, v: Values, recorded: Values) -> Iterator[str]:
    names = CHECKS[key].numbers
    if key.startswith("transition-length"):
        names = _MEASURED_LENGTH[key[-4:]]
    for name in names:
        if isinstance(v.get(name), float) and recorded.get(name) is not None:
            yield name


def judge_values(key: str, v: Values, row: Values) -> _Case:
    """One case: every input a single value."""
    check = CHECKS[key]
    try:
        said = check.says(v, v)
    except NoSuchThingError:
        return _Case(NOT_APPLICABLE)
    except (OutsideError, MissingError) as error:
        return _Case(OPEN, outside=isinstance(error, OutsideError))
    if check.information:
        return _Case(INFORMATION, said.found, said.required, None)
    guards = [0.0] * len(said.parts)
    if check.guarded and said.parts:
        squares = [0.0] * len(said.parts)
        for name in _measured(key, v, row):
            moves = [0.0] * len(said.parts)
            step = tolerance(name, v[name], isinstance(row[name], About))
            for moved in (v[name] + step, v[name] - step):
                try:
                    parts = check.says(v | {name: moved}, v).parts
                except (
                    NoSuchThingError,
                    OutsideError,
                    MissingError,
                    ValueError,
                    ZeroDivisionError,
                ):
                    continue
                moves = [
                    max(m, abs(p.margin - q.margin))
                    for m, p, q in zip(moves, parts, said.parts, strict=True)
                ]
            squares = [s + m * m for s, m in zip(squares, moves, strict=True)]
        guards = [math.sqrt(s) for s in squares]
    return _Case(
        _band(said, guards),
        said.found,
        said.required,
        guards[0] if check.guarded and guards else None,
    )


def band_at(key: str, v: Values, row: Values) -> str:
    """Band of one case; the measuring uncertainty is worked out only where it can decide."""
    check = CHECKS[key]
    try:
        said = check.says(v, v)
    except NoSuchThingError:
        return NOT_APPLICABLE
    except (OutsideError, MissingError):
        return OPEN
    band = _band(said, [0.0] * len(said.parts))
    return judge_values(key, v, row).band if check.guarded and band == MEETS else band


def _span(values: list[Any]) -> Range | None:
    ends = [
        end
        for value in values
        if value is not None
        for end in (value if isinstance(value, Range) else (value,))
    ]
    return Range(min(ends), max(ends)) if ends else None


def plain(value: Any) -> Any:
    return value.value if isinstance(value, About) else value


def judge(key: str, row: Values, first: bool = True) -> Verdict:
    """The verdict of one check on one row; `first` is false on a conveyor's further rows."""
    check = CHECKS[key]
    if check.per_belt and not first:
        return Verdict(NOT_APPLICABLE)
    options = unknowns(key, row)
    ranged = [name for name in check.numbers if isinstance(row.get(name), Range)]
    ends: list[Options] = [[{name: end} for end in row[name]] for name in ranged]
    if math.prod(map(len, [*options, *ends])) > 200:
        return Verdict(OPEN)
    single = {name: plain(value) for name, value in row.items() if name not in ranged}
    cases: list[_Case] = []
    bands: set[str] = set()
    for chosen in product(*options):
        base = single.copy()
        for option in chosen:
            base |= option
        feet: Options = [{}]
        if (
            key == "seal-wander"
            and row.get("seal_footprint") is None
            and base["seal_kind"] in FOOTPRINTS
        ):
            feet = [{"seal_footprint": foot} for foot in FOOTPRINTS[base["seal_kind"]]]
        for foot in feet:
            corners = []
            for corner in product(*ends):
                v = base | foot
                for end in corner:
                    v |= end
                corners.append(judge_values(key, v, row))
                if ranged and corners[-1].band == MEETS:
                    corners += _inside(key, v, row, ranged)
            cases += corners
            # Outside the method goes before any band, at one end of a range too.
            outside = any(case.outside for case in corners)
            bands.add(OPEN if outside else min((case.band for case in corners), key=_order))
    band = bands.pop() if len(bands) == 1 else OPEN
    if band == OPEN and any(case.outside for case in cases):
        return Verdict(OPEN)
    if band == INFORMATION and options:  # numbers only, null where an input is missing
        return Verdict(band)
    return Verdict(
        band,
        _span([case.found for case in cases]),
        _span([case.required for case in cases]),
        _span([case.uncertainty for case in cases]),
    )


def _order(band: str) -> int:
    return WORST_FIRST.index(band) if band in WORST_FIRST else -1


def _inside(key: str, v: Values, row: Values, ranged: list[str]) -> list[_Case]:
    """Values within a recorded range: where one does not meet, the range does not."""
    found = []
    for name in ranged:
        low, high = row[name]
        for part in (0.25, 0.5, 0.75):
            case = judge_values(key, v | {name: low + part * (high - low)}, row)
            if case.band != MEETS:
                found.append(case)
    return found


# --- a register's rows -------------------------------------------------------------------------

_SHARED_GROUPS = [
    "belt_",
    "tail_",
    "head_",
    "splice_",
    "reversing",
    "conveyor_length",
    "lift",
    "incline",
    "trough_angle",
    "idler_rolls",
    "centre_roll",
    "carry_idler",
    "return_idler",
    "pulley_",
    "primary_",
    "secondary_",
    "tertiary_",
    "cleaner_",
    "cleaned_",
    "carryback_",
    "tracker_",
    "side_clearance",
    "alignment_",
    "edge_damage",
]


def _belongs_to_belt(name: str) -> bool:
    return name != "belt_wander" and any(name.startswith(start) for start in _SHARED_GROUPS)


def prepare(rows: list[Values]) -> list[tuple[Values, bool]]:
    """Rows with what is derived from other values, and whether each is its conveyor's first."""
    by_tag: dict[str, list[Values]] = {}
    made = []
    for number, given in enumerate(rows):
        row = {name: value for name, value in given.items() if value is not None}
        tag = str(row.get("tag", f"#{number}"))
        made.append((row, tag not in by_tag))
        by_tag.setdefault(tag, []).append(row)
    for several in by_tag.values():
        for name in {name for row in several for name in row if _belongs_to_belt(name)}:
            value = next(row[name] for row in several if name in row)
            for row in several:
                row.setdefault(name, value)
    for row, _ in made:
        length = row.get("conveyor_length")
        for end in ("tail", "head"):
            whole = row.get(f"{end}_transition_length")
            if (
                isinstance(length, float)
                and isinstance(plain(whole), float)
                and plain(whole) > length
            ):
                del row[f"{end}_transition_length"]
        text = str(row.get("belt_designation", ""))
        kind, _, strength = text.partition(" ")
        if kind in ("EP", "NN", "ST"):
            row.setdefault("belt_carcass", "steel cord" if kind == "ST" else "fabric")
            row.setdefault("belt_nominal_strength", float(strength.split("/")[0]))
        for stage in ("primary", "secondary"):
            if f"{stage}_blade" in row:
                row.setdefault(f"{stage}_cleaner", True)
    return made


def may_be_negative(name: str) -> bool:
    """Whether a number may lie below zero (section 2)."""
    return name.endswith("_pulley_lift")


def most_possible(name: str) -> float:
    """Above this a number is impossible (section 2)."""
    return {
        "trough_angle": 75.0,
        "surcharge_angle": 45.0,
        "belt_width": 4.0,
        "belt_speed": 15.0,
        "lump_size": 2.5,
        "drop_height": 60.0,
        "chute_width_inside": 4.0,
        "tail_transition_length": 30.0,
        "head_transition_length": 30.0,
        "load_idler_spacing": 10.0,
        "bulk_density": 8.0,
    }.get(name, 3.0 if name.endswith("_ratio") else math.inf)
