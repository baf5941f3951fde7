"""Harrow Sidings: the register of a newly acquired depot, kept by hand for years.

Written here as its keeper typed it, one block per group of columns: a number stands as a number,
text in quotes is a number typed as text, ``=formula -> value`` is a formula with its last value.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from plant import INVENTED
from sheets import book, put

# (group over the columns, headers), then one line per row of the sheet
_BELT = """
Conv. No.|Duty|Material|Width (m)|Speed (m/s)|Belt|Working tension (kN/m)|Trough (deg)|Centres (m)
AREA 100 – RECEIVING
HS 01|Truck hopper belt|limestone|1.05|1.2|EP 630/4|63|35|22
HS 02|Hopper to crusher|limestone|1.05|1.6|EP 630/4|63|35|86
HS 03|Rail unloading|limestone|1.2|1.8|EP 800/4|80|35|140
HS 04|Rail to stockpile|limestone|900|1.8|EP 630/4|63|35|110
AREA 200 – CRUSHING
HS 10|Crusher discharge|limestone|1.05|'1.6'|EP 630/4|63|35|41
HS 11|Crusher to screens|limestone|42 in|1.9|EP 630/4|63|35 deg|118
HS 12A|Screen feed, north|limestone|0.9|1.7|EP 630/4|63|35|36
HS 12B|Screen feed, south|limestone|0.9|1.7|EP 630/4|63|35|36
HS 13|Oversize return|limestone|0.75|300 fpm|EP 400/3|40|20|44
HS 14|Fines belt|limestone|0.75|1.5|EP 400/3|40|20|52
HS 15|Dust screw belt|limestone|0.5|0.8|rubber|n/a|0|12
AREA 300 – GYPSUM SHED
HS 20|Shed reclaim|gypsum|1.0|1.6|EP 630/4|63|35|74
HS 20|Shed reclaim|gypsum|1.0|1.6|EP 630/4|63|35|74
HS 21|Shed to rail bin|gypsum|1.0|2.0|EP 800/4|80|350|162
HS 22|Bin distribution|gypsum|1.0|1.4|TBC|TBC|20|28
HS 23|Rail loading|gypsum|1.2|2.4|ST 1000|150|35|228
HS 24|Bypass|gypsum|see drawing HS-113|1.6|EP 630/4|63|35|57
AREA 400 – COKE
HS 30|Coke receiving|pet coke|1.0|1.8|EP 630/4|63|35|68
HS 31|Coke to silo|pet coke|1.0|2.1|EP 800/4|80|35|185
HS 32|Silo discharge|pet coke|0.8|1.2|EP 400/3|40|35|19
HS 33|Coke to loading|pet coke|1.0|120|EP 800/4|80|35|240
HS 34|Loading boom|pet coke|1.0|2.1|EP 630/4|63|45|32
AREA 500 – PELLETS
HS 40|Pellet intake|wood pellets|1.0|1.6|EP 630/4|63|35|55
HS 41|Pellet to store|wood pellets|1.0|2.2|EP 630/4|63|35|133
HS 42|Store reclaim|wood pellets|0.8|1.5|EP 400/3|40|20|61
HS 43|To hammer mill|wood pellets|0.8|1.5|EP 400/3|40|20|25
"""

_TAIL = """
Tension used (%)|Transition (mm)|Pulley|Trans. idlers|Face (mm)|Transition (mm)|Face (mm)
45|2100|full trough|2|1200|2750|1200
'55'|1600|full trough|1|1200|2750|1200
60|2.9 m|full trough|2|1400|3150|1400
45|'1800'|full trough|2|1050|2350|1050
40|~2000|full trough|2|1200|2800|1200
70|8'-6"|full trough|2|1200|9'-2 1/2"|1200
45|1.7–1.9 m|full trough|2|1050|2400|1050
45|1450|full trough|0|1050|2400|1050
60|1350|full trough|0|900|1300|900
45|#DIV/0!|full trough|-|900|1300|900
30||||600||600
45|1900|full trough|2|1150|2600|1150
45|1900|full trough|2|1150|2600|1150
65|2600|full trough|2|1150|2600|1150
TBC|2000|full trough|TBC|1150|2100|1150
35|4600|full trough|3|1400|6700|1400
45|2000|full trough|2|1150|2600|1150
45|1810|full trough|2|1150|2450|1150
92|3000|full trough|2|1150|2300|1150
45|900|half|2|950|1300|950
45|2000|full trough|2|1150|2600|1150
45|2600|one-third|2|1100|3400|1150
45|2000|full trough|2|1150|2600|1150
45|approx 1.8 m|full trough|2|1150|2600|1150
45|1100|full trough|unknown|950|1400|950
45|1100|full trough|0|850|1400|950
"""

_LOAD = """
Load point|Lands at (mm)|Chute back (mm)|Chute width (mm)|Lump (mm)|Mix|Rate (t/h)|Density (t/m³)
|2700|2300|600|200|with fines|420|1.4
|1900|1500|630|200|with fines|420|1.4
|3300|3100|=ROUND(0.6*1200,0) -> 720|'75'|with fines|760|1.4
|2400|2100|540|150|with fines|610|1.4
|2500|2200|630|180|with fines|610|1.4
|3000|2700|26 in|120|uniform|690|1.4
|2300|2050|540|60|uniform|380|1.4
|2200|1500|610|60|uniform|380|1.4
|1800|1500|450|150|uniform|150|1.4
|1700|1400|430|10|with fines|190|1.4
|700|500|250|2|with fines|20|0.9
Gate 1|2600|2200|590|50|with fines|560|1.25
Gate 2|31.5 m|31.0 m|700|50|with fines|560|1.25
|3000|2750|600|40|with fines|700|1.25
|2300||600|50|with fines|TBC|1.25
|5200|4900|720|40|with fines|1,150|1.25
|2500|2300|600|40|with fines|500|1.25
|2300|1950|600|80|with fines|330|0.75
|3300|3050|640|80|with fines|450|0.75
|1500|1250|480|60|with fines|120|0.75
|2500|2200|600|80|with fines|430|0.75
|2900|2400|690|80|with fines|390|0.75
|2400|2200|600|25|uniform|260|0.65
|2300|2050|600|25|uniform|380|0.65
|1500|1250|480|25|uniform|130|0.65
|1500|1250|n/a|25|uniform|130|0.65
"""

_SKIRT = """
Length (m)|Seal|Wander (mm)|Edge to steel (mm)|Doors|W (mm)|H (mm)|Lock-out|Nips guarded|Pull cord
4.5|dual lip|10|150|2|450|450|Y|Y|Y
3|single strip|25|120|1|450|450|Y|N|Y
5.0|dual lip|15|150|2|600|450|Y|Y|Y
4.0|none|TBC|150|0|||Y|Y|Y
4.5|dual lip|~15|150|2|450|450|yes|yes|yes
14 ft|dual lip|10|6 in|2|450|450|Y|Y|Y
4.0|single strip|20|90|1|250|250|Y|Y|N
2.5|single strip|35|60|1|250|250|Y|N|N
2.0|none||100|0|||N|N|N
3.0|single strip|15|100|1|400|400|?|Y|Y
1.0|none|||0|||Y|Y|Y
4.0|dual lip|15|150|2|450|450|Y|Y|Y
4.0|dual lip|15|150|2|450|450|Y|Y|Y
4.0|rope|15|150|2|450|450|Y|Y|Y
3.2|none|||TBC|TBC|TBC|Y|Y|Y
5.0|dual lip|10|200|3|600|600|Y|Y|Y
4.0|single strip|20|150|1|450|450|Y|Y|Y
4.5|dual lip|10|150|2|450|450|Y|Y|Y
3.5|single strip|30|80|1|300|300|Y|Y|N
3.5|dual lip|10|150|1|450|450|Y|Y|Y
4.5|dual lip|10|150|2|450|450|Y|Y|Y
4.5|dual lip|20|150|2|450|450|Y|N|Y
4.5|dual lip|10|150|2|450|450|Y|Y|Y
4.5|dual lip|unknown|150|2|450|450|Y|Y|Y
3.5|single strip|15|150|1|350|350|✓|✓|✓
3.5|single strip|15|100|1|350|350|✓|x|✓
"""

_HOUSE = """
Spillage|Clean-up (h/wk)|Remarks
none|2|
light|8|chute renewed, first idler moved out
none|3|
heavy|18|width to be confirmed on site
none|2|
none|3|sizes from the maker's list (¹)
light|6|
heavy|22|worst belt on the depot
heavy|12|
light|5|
none|1|flat belt
none|3|
none|3|second gate added later
light|4|trough figure looks wrong
none|TBC|belt to be identified
none|2|
none|2|
none|3|
light|7|
none|1|
none|4|
light|6|
none|2|
none|3|
none|2|
none|2|
"""

GROUPS = [
    ("CONVEYOR", 3),
    ("BELT", 4),
    ("LAYOUT", 2),
    ("TAIL END", 5),
    ("HEAD END", 2),
    ("LOADING", 8),
    ("SKIRTS", 3),
    ("CLEARANCE", 1),
    ("INSPECTION DOORS", 3),
    ("SAFETY", 3),
    ("HOUSEKEEPING", 2),
    ("", 1),
]

FOOTNOTES = [
    "¹ Maker's list, not measured.",
    "² Figures with ~ were paced out. Ask the depot before ordering from this list.",
]

_CLEANERS = """
Conveyor|Primary|Blade|Secondary|Blade|Tensioner|Chosen for duty|Tail plough
HS-01|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-02|Y|urethane|none installed|||N|Y
HS-03|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-04|Y|rubber|N|||N|N
HS-10|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-11|Y|urethane|Y|urethane|spring|Y|Y
HS-12A|Y|urethane|Y|ceramic|counterweight|Y|Y
HS-12B|Y|urethane|on hold|||N|N
HS-13|N||N|||N|N
HS-14|Y|urethane|Y|stainless steel|torsion|Y|Y
HS-15|N||N|||N|N
HS-20|Y|urethane|Y|tungsten carbide|air|Y|Y
HS-21|Y|urethane|Y|tungsten carbide|counterweight|Y|Y
HS-22|TBC||TBC|||TBC|TBC
HS-23|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-24|Y|urethane|Y|TBC|spring|Y|Y
HS-30|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-31|Y|urethane|Y|rubber|spring|N|Y
HS-32|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-33|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-34|Y|urethane|Y|brush|spring|Y|Y
HS-40|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-41|Y|urethane|Y|tungsten carbide|spring|Y|Y
HS-42|Y|urethane|N|||Y|Y
HS-44|Y|urethane|Y|tungsten carbide|spring|Y|Y
"""

_TRACKING = """
Before tail|After load|Before head|Longest free run (m)|Edges|Misalignment switch
dynamic|dynamic|dynamic|18|none|Y
passive|none|dynamic|64|slight|Y
dynamic|dynamic|dynamic|40|none|Y
none|none|none||severe|N
dynamic|dynamic|dynamic|20|none|Y
dynamic|dynamic|dynamic|35|none|Y
passive|dynamic|dynamic|36|none|Y
none|none|passive|72|severe|N
none|none|none||slight|N
dynamic|dynamic|none|30|none|Y
none|none|none||none|N
dynamic|dynamic|dynamic|21|none|Y
dynamic|passive|dynamic|55|none|Y
TBC|TBC|TBC|TBC|none|TBC
dynamic|dynamic|dynamic|48|none|Y
dynamic|dynamic|dynamic|40|none|Y
dynamic|dynamic|dynamic|21|none|Y
passive|passive|passive|90|slight|Y
dynamic|dynamic|dynamic|19|none|Y
dynamic|dynamic|dynamic|45|none|Y
dynamic|dynamic|dynamic|20|slight|Y
dynamic|dynamic|dynamic|20|none|Y
dynamic|dynamic|dynamic|42|none|Y
dynamic|dynamic|dynamic|38|none|Y
dynamic|dynamic|dynamic|20|none|Y
"""

_SPARES = """
Item|Description|Bin|In stock|Minimum
1|Impact roll 152 dia.|A3|14|10
2|Return roll 152 dia.|A4|9|10
3|Urethane blade 1000|B1|3|2
4|Skirt rubber, 20 m coil|B2|2|1
5|Pull-cord switch|C1|1|2
"""


def _lines(text: str) -> list[list[str]]:
    return [line.split("|") for line in text.strip("\n").split("\n")]


def _cell(text: str) -> Any:
    """What was typed: a number where it reads as one, else text; None for an empty cell."""
    if not text:
        return None
    if text.startswith("'") and text.endswith("'"):
        return text.strip("'")
    try:
        number = float(text)
    except ValueError:
        return text
    return int(number) if number.is_integer() else number


def _write_cell(sheet: Any, row: int, column: int, text: str, style: Any = None) -> None:
    if text.startswith("="):
        formula, value = text.split(" -> ")
        sheet.write_formula(row, column, formula, style, float(value))
    elif text == "#DIV/0!":
        sheet.write_formula(row, column, "=1000/0", style, text)
    else:
        put(sheet, row, column, _cell(text), style)


def _conveyors(made: Any) -> None:
    sheet = made.add_worksheet("Conveyors")
    title = made.add_format({"bold": True, "font_size": 14})
    centred = {
        "bold": True,
        "align": "center",
        "valign": "vcenter",
        "text_wrap": True,
        "border": 1,
    }
    heading = made.add_format({**centred, "bg_color": "#EAE3D2"})
    section = made.add_format({"bold": True, "bg_color": "#F4F0E6"})
    doubtful = made.add_format({"bg_color": "#FFF2A8"})
    total = made.add_format({"bold": True, "top": 1})

    put(sheet, 0, 0, "HARROW SIDINGS DEPOT – BELT CONVEYORS", title)
    put(sheet, 1, 0, INVENTED)
    put(sheet, 2, 0, "Sizes by the depot; some paced out. Yellow: ask before use.")
    blocks = [_lines(text) for text in (_TAIL, _LOAD, _SKIRT, _HOUSE)]
    main = _lines(_BELT)
    headers = main[0] + [header for block in blocks for header in block[0]]

    start = 0
    for group, width in GROUPS:
        if width > 1:
            sheet.merge_range(4, start, 4, start + width - 1, group, heading)
        else:
            put(sheet, 4, start, group or None, heading)
        start += width
    for column, header in enumerate(headers):
        put(sheet, 5, column, header, heading)

    conveyor = 0
    for number, line in enumerate(main[1:], 6):
        if len(line) == 1:
            put(sheet, number, 0, line[0], section)
            continue
        conveyor += 1
        for column, text in enumerate(line + [t for block in blocks for t in block[conveyor]]):
            odd = text.startswith(("~", "approx")) or (column == 3 and text == "900")
            _write_cell(sheet, number, column, text, doubtful if odd else None)
    last = 5 + len(main) - 1
    put(sheet, last + 1, 0, "TOTAL", total)
    put(sheet, last + 1, 1, f"{conveyor} lines", total)
    sheet.write_formula(last + 1, 8, f"=SUM(I7:I{last + 1})", total, _sum_of_centres(main))
    for number, note in enumerate(FOOTNOTES, last + 3):
        put(sheet, number, 0, note)

    sheet.set_column(0, 0, 11)
    sheet.set_column(1, 1, 20)
    sheet.set_column(2, len(headers) - 1, 10.5)
    sheet.set_column(13, 13, 10.5, None, {"hidden": True})
    sheet.set_row(6 + _row_of(main, "HS 15"), None, None, {"hidden": True})
    sheet.freeze_panes(6, 1)
    sheet.write_comment(
        6 + _row_of(main, "HS 21"), 7, "350? Check on site.", {"author": "Depot (invented)"}
    )


def _row_of(main: list[list[str]], tag: str) -> int:
    return next(number for number, line in enumerate(main[1:]) if line[0] == tag)


def _sum_of_centres(main: list[list[str]]) -> float:
    return sum(float(line[8]) for line in main[1:] if len(line) > 1)


def _cleaners(made: Any) -> None:
    sheet = made.add_worksheet("Cleaners")
    bold = made.add_format({"bold": True, "bottom": 1, "text_wrap": True})
    put(sheet, 0, 0, "Belt cleaners and tracking, from the maintenance rounds")
    pairs = zip(_lines(_CLEANERS), _lines(_TRACKING), strict=True)
    for number, (cleaners, tracking) in enumerate(pairs, 2):
        for column, text in enumerate(cleaners + tracking):
            _write_cell(sheet, number, column, text, bold if number == 2 else None)
    sheet.set_column(0, 13, 12)


def _spares(made: Any) -> None:
    sheet = made.add_worksheet("Spares")
    bold = made.add_format({"bold": True, "bottom": 1})
    lines = _lines(_SPARES)
    for number, line in enumerate(lines):
        for column, text in enumerate(line):
            _write_cell(sheet, number, column, text, bold if number == 0 else None)
    sheet.set_column(1, 1, 26)
    chart = made.add_chart({"type": "column"})
    for column in (3, 4):
        chart.add_series(
            {
                "name": ["Spares", 0, column],
                "categories": ["Spares", 1, 1, len(lines) - 1, 1],
                "values": ["Spares", 1, column, len(lines) - 1, column],
            }
        )
    chart.set_title({"name": "Stock against minimum"})
    sheet.insert_chart("G2", chart)
    sheet.conditional_format(1, 3, len(lines) - 1, 3, {"type": "data_bar", "bar_only": True})


def write(folder: Path) -> None:
    """Write harrow_sidings_acquired.xlsx into `folder`."""
    made = book(folder, "harrow_sidings_acquired.xlsx", "Harrow Sidings depot: belt conveyors")
    _conveyors(made)
    _cleaners(made)
    _spares(made)
    made.close()
