"""Invented registers of any length for the measurements: 60 columns, about a fifth of it blank."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from openpyxl import Workbook

__all__ = ["COLUMNS", "write_register"]

BLANK = 0.2
YES_NO = ("yes", "no")
BLADES = ("urethane", "rubber", "tungsten carbide", "stainless steel", "ceramic", "brush")
TRACKERS = ("none", "passive", "dynamic")

# Heading to the words it offers, or to (low, high, decimals). Ranges are such that each check
# finds conveyors that meet it and conveyors that do not.
COLUMNS: dict[str, tuple[str, ...] | tuple[float, float, int]] = {
    "Area": ("quay", "stockyard", "crushing", "screening", "loading"),
    "Service": ("reclaim", "stacking", "ship loading", "crusher discharge", "screen feed"),
    "Feeds belt": YES_NO,
    "Belt width (mm)": ("650", "800", "1000", "1200", "1400", "1600"),
    "Belt speed (m/s)": (0.8, 4.5, 2),
    "Belt designation": ("EP 500/3", "EP 800/4", "EP 1000/4", "NN 500/3", "ST 1600", "ST 2500"),
    "Belt carcass": ("fabric", "fabric", "fabric", "steel cord"),
    "Belt rated tension (kN/m)": (40.0, 250.0, 0),
    "Tail tension ratio (%)": (30, 100, 0),
    "Head tension ratio (%)": (40, 110, 0),
    "Belt mass (kg/m)": (8.0, 40.0, 1),
    "Splice kind": ("vulcanised", "mechanical"),
    "Reversing": ("no", "no", "no", "yes"),
    "Conveyor length (m)": (20.0, 900.0, 1),
    "Lift (m)": (-10.0, 60.0, 1),
    "Trough angle (°)": ("20", "30", "35", "45"),
    "Idler rolls": ("3",),
    "Carry idler spacing (m)": (0.9, 1.5, 2),
    "Pulley face tail (mm)": (750, 1800, 0),
    "Pulley face head (mm)": (750, 1800, 0),
    "Pulley crowned": YES_NO,
    "Tail transition length (m)": (0.8, 4.5, 2),
    "Head transition length (m)": (0.8, 4.5, 2),
    "Tail pulley lift": ("full trough", "one-third", "half"),
    "Tail transition idlers": ("0", "1", "2", "3"),
    "Load start (m)": (1.0, 5.0, 2),
    "Chute width inside (mm)": (400, 1000, 0),
    "Chute wall thickness (mm)": (6, 12, 0),
    "Drop height (m)": (0.5, 6.0, 1),
    "Lump size (mm)": (20, 400, 0),
    "Lump mix": ("uniform", "with fines"),
    "Material": ("gypsum", "limestone", "coal", "iron ore", "potash", "wood chips"),
    "Bulk density (t/m³)": (0.4, 2.6, 2),
    "Dust kind": ("dry dusty", "combustible", "sticky", "wet", "benign"),
    "Surcharge angle (°)": (5, 28, 0),
    "Tonnage (t/h)": (100, 4000, 0),
    "Load idler spacing (m)": (0.3, 1.2, 2),
    "Load belt tension (kN)": (8.0, 80.0, 1),
    "Load support": ("idlers", "impact idlers", "impact bed", "slider bed"),
    "Skirt length (m)": (1.0, 9.0, 1),
    "Seal kind": ("none", "single strip", "dual lip"),
    "Belt wander (mm)": (0, 120, 0),
    "Primary cleaner": YES_NO,
    "Secondary cleaner": YES_NO,
    "Secondary blade": BLADES,
    "Cleaner tensioner": ("counterweight", "spring", "torsion", "air"),
    "Tail plough": YES_NO,
    "Tracker before tail": TRACKERS,
    "Tracker after load": TRACKERS,
    "Tracker before head": TRACKERS,
    "Side clearance (mm)": (20, 200, 0),
    "Edge damage": ("none", "slight", "severe"),
    "Door count": ("0", "1", "2"),
    "Door width (mm)": (200, 600, 0),
    "Isolation procedure": YES_NO,
    "Nip guards": YES_NO,
    "Emergency stop": YES_NO,
    "Spillage level": ("none", "light", "heavy"),
    "Cleanup hours (h/week)": (0.0, 30.0, 1),
}
_ROWS_AT_ONCE = 5_000


def write_register(path: Path, rows: int, seed: int = 20250106) -> None:
    """Write one sheet of `rows` conveyors; the same rows and seed give the same cells."""
    random = np.random.default_rng(seed)
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Conveyors")
    sheet.append(["Tag", *COLUMNS])
    for start in range(0, rows, _ROWS_AT_ONCE):
        count = min(_ROWS_AT_ONCE, rows - start)
        columns = [_column(random, given, count) for given in COLUMNS.values()]
        for at, cells in enumerate(zip(*columns, strict=True)):
            sheet.append([f"CV-{start + at + 1:06d}", *cells])
    book.save(path)


def _column(
    random: np.random.Generator, given: tuple[str, ...] | tuple[float, float, int], count: int
) -> list[str | float | None]:
    if isinstance(given[0], str):
        values = [_number_or_word(word) for word in random.choice(given, count).tolist()]
    else:
        low, high, decimals = given
        values = np.round(random.uniform(low, high, count), decimals).tolist()
    blank = random.random(count) < BLANK
    return [None if empty else value for value, empty in zip(values, blank.tolist(), strict=True)]


def _number_or_word(word: str) -> str | float:
    return float(word) if word.isdecimal() else word
