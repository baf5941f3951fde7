"""What a sheet is about, what cells rule out, and what remarks say of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from sheetcheck.intake import describe_columns, read_register
from sheetcheck.intake.headers import match_header, narrower


@pytest.fixture
def build(tmp_path: Path):
    def make(*sheets, name: str = "Belts"):
        book = Workbook()
        book.remove(book.active)
        for at, rows in enumerate(sheets):
            title, rows = rows if isinstance(rows, tuple) else (name if not at else str(at), rows)
            page = book.create_sheet(title)
            for row in rows:
                page.append(row)
        book.save(tmp_path / "register.xlsx")
        return tmp_path / "register.xlsx"

    return make


def fields(book, sheet=None):
    return [
        column.field
        for column in describe_columns(book).columns
        if sheet is None or column.sheet == sheet
    ]


def questions(book):
    return {place: question for _, place, question in describe_columns(book).questions}


TAGS = ("C1", "C2", "C3", "C4")


def columns(**cells):
    """Rows of a table: the headings, and a column of cells under each."""
    return [list(cells), *map(list, zip(*cells.values(), strict=True))]


LOADING = {
    "Tag": TAGS,
    "Drop height (m)": (1, 2, 1.5, 1),
    "Skirt length (m)": (3, 4, 3, 5),
    "Chute width inside (mm)": (500, 600, 550, 600),
}


@pytest.mark.parametrize("name", ["Load points", "Sheet1"])
def test_idler_spacing_on_a_sheet_of_load_points_is_that_of_the_load_zone(build, name):
    rows = columns(**LOADING, **{"Idler spacing (mm)": (300, 350, 400, 300)})
    assert fields(build((name, rows)))[-1] == "load_idler_spacing"


def test_idler_spacing_on_a_list_of_belts_is_that_of_the_carrying_idlers(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Belt width (mm)": (900, 900, 1000, 1200),
            "Lift (m)": (4, 5, 6, 7),
            "Idler spacing (mm)": (1200, 1200, 1000, 1000),
        },
    )
    assert fields(build(rows))[-1] == "carry_idler_spacing"


def test_a_spacing_that_names_the_carrying_side_stays_theirs_among_load_points(build):
    rows = columns(**LOADING, **{"Carry idler spacing (mm)": (1200, 1200, 1000, 1000)})
    assert fields(build(("Load points", rows)))[-1] == "carry_idler_spacing"


def test_among_both_it_is_asked_which_naming_both(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Belt width (mm)": (900, 900, 1000, 1200),
            "Belt speed (m/s)": (2, 2, 2, 2),
            "Lift (m)": (4, 5, 6, 7),
            "Drop height (m)": (1, 2, 1.5, 1),
            "Idler spacing (mm)": (300, 350, 400, 300),
            "Skirt length (m)": (3, 4, 3, 5),
        },
    )
    book = build(rows)
    assert fields(book)[5] is None
    assert "carry_idler_spacing" in questions(book)["F"]
    assert "load_idler_spacing" in questions(book)["F"]


def test_reversing_on_a_sheet_of_scrapers_asks_whether_they_suit_it(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Primary scraper": ("yes", "yes", "no", "yes"),
            "Primary blade": ("PU", "PU", "TC", "PU"),
            "Tensioner": ("spring", "spring", "air", "spring"),
            "OK for reverse run": ("no", "yes", "no", "no"),
        },
    )
    assert fields(build(("Scraper survey", rows)))[-1] == "cleaner_reversible"


def test_narrower_needs_one_thing_more_that_only_the_subject_names():
    one = narrower("Idler spacing", "", "load point", "mm", "carry_idler_spacing")
    assert one == "load_idler_spacing"
    assert narrower("Idler spacing", "", "cleaner", "mm", "carry_idler_spacing") is None
    named = narrower("Carry idler spacing", "", "load point", "mm", "carry_idler_spacing")
    assert named is None
    assert narrower("Guards", "", "inspection door", None, "nip_guards") == "door_barrier"


@pytest.mark.parametrize(
    ("header", "group", "sheet"),
    [
        ("Chute height (m)", "", "Inspection doors"),
        ("Chute length (mm)", "", "Skirts and seals"),
        ("Hours", "Belt", "Cleaners"),
        ("Gap (mm)", "", "Load points"),
        ("Code", "Material", "Transfer points"),
        ("Clamp", "Skirt", ""),
        ("Location", "Doors", ""),
        ("Material", "Chute", ""),
        ("Length (m)", "Belt", ""),
        ("Number of load points", "", ""),
        ("Zone out", "ZX", ""),
    ],
)
def test_a_name_above_makes_no_field_of_what_speaks_of_another_thing(header, group, sheet):
    assert match_header(header, group, sheet).field is None


@pytest.mark.parametrize("name", ["Sheet1", "Tabelle2", "Hoja 3", "Feuil1", "Plan1"])
def test_a_sheet_that_nobody_named_tells_nothing(name):
    assert match_header("Width (mm)", "", name).field == "belt_width"


# --- what cells rule out -----------------------------------------------------------------------


def test_a_set_of_thirty_five_rolls_is_none(build):
    rows = columns(Tag=TAGS, **{"Belt width (mm)": (900,) * 4, "Rolls per set": (35, 20, 35, 35)})
    assert fields(build(rows)) == ["tag", "belt_width", None]


def test_an_angle_in_the_cells_makes_it_the_trough(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Belt width (mm)": (900,) * 4,
            "Rolls set at": ("35 deg", "20 deg", "35 deg", "35 deg"),
        },
    )
    assert fields(build(rows))[-1] == "trough_angle"


@pytest.mark.parametrize(
    ("heading", "cells", "field"),
    [
        ("Runs", ("275 fpm", "300 fpm", "250 fpm", "?"), "belt_speed"),
        ("Wide", ('48"', '36"', '30"', '36"'), "belt_width"),
        ("Shovelling", ("8 hr/wk", "4 hr/wk", "2 hr/wk", "5 hr/wk"), "cleanup_hours"),
        ("Belt width", ("3 m/s", "2 m/s", "2 m/s", "2.5 m/s"), None),
    ],
)
def test_the_unit_that_cells_name_tells_as_one_in_the_heading_does(build, heading, cells, field):
    rows = columns(Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), heading: cells})
    assert fields(build(("Sheet1", rows)))[-1] == field


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("Pull cord zzyx", ("yes", "no", "no", "no")),
        ("Material", (101.0, 102.0, 103.0, 104.0)),
        ("Service", ("A-101", "A-102", "A-103", "A-104")),
        ("Fed from", ("Toledo", "Toledo", "Toledo", "Toledo")),
        ("Material", ("urethane", "rubber", "urethane", "carbide")),
        ("Guards", ("mesh", "steel", "galvanised", "mesh")),
        ("Belt width (mm)", (12, 14, 12, 16)),
    ],
)
def test_cells_that_a_field_cannot_have_leave_it_open(build, heading, cells):
    rows = columns(Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), heading: cells})
    assert fields(build(rows))[-1] is None


def test_zones_of_explosive_dust_are_no_areas(build):
    rows = columns(Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), "Zone": (22.0, 21.0, 22.0, 22.0)})
    assert fields(build(rows))[-1] is None


def test_lines_numbered_down_the_list_are_no_load_points(build):
    rows = columns(**{"LP": (1, 2, 3, 4)}, Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7)})
    assert fields(build(rows))[0] is None
    rows = columns(**{"LP": ("LP1", "LP1", "LP2", "LP1")}, Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7)})
    assert fields(build(rows))[0] == "load_point"


def test_what_a_belt_may_work_at_and_works_at_is_asked(build):
    rows = columns(Tag=TAGS, **{"Max working tension (kN/m)": (50, 63, 80, 40)})
    book = build(rows)
    assert fields(book)[-1] is None
    asked = questions(book)["B"]
    assert "belt_rated_tension" in asked
    assert "belt_operating_tension" in asked


def test_the_design_rate_goes_before_the_actual_one(build):
    both = {"Actual t/h": (300, 310, 280, 290), "Design t/h": (400, 400, 350, 350)}
    assert fields(build(columns(Tag=TAGS, **both))) == ["tag", None, "tonnage"]
    both = {"Present t/h": (300, 310, 280, 290), "Peak t/h": (400, 400, 350, 350)}
    assert fields(build(columns(Tag=TAGS, **both))) == ["tag", None, None]


def test_cells_of_nothing_but_one_fields_own_words_tell_it(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Belt width (mm)": (900,) * 4,
            "Belt speed (m/s)": (2,) * 4,
            "Primary blade": ("PU", "PU", "TC", "PU"),
            "Qwerty": ("spring", "torsion", "spring", "spring"),
            "Asdfg": ("clips", "hot vulc", "clips", "hot vulc"),
            "Gearbox qwerty": ("clips", "hot vulc", "clips", "hot vulc"),
        },
    )
    assert fields(build(rows))[4:] == ["cleaner_tensioner", "splice_kind", None]


# --- tags --------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", ["Asset #", "Plant no.", "Asset tag (finance)", "KKS"])
def test_a_belts_own_number_goes_before_that_of_an_asset(build, other):
    rows = columns(
        **{other: ("10EAC11", "10EAC12", "10EAC13", "10EAC14"), "Belt": TAGS},
        **{"Belt width (mm)": (900,) * 4},
    )
    assert fields(build(rows)) == [None, "tag", "belt_width"]


def test_a_column_that_says_tag_goes_before_the_name_of_the_belt(build):
    rows = columns(
        **{"Conveyor": ("B1", "B2", "B3", "B4"), "Tag": TAGS, "Belt width (mm)": (900,) * 4}
    )
    assert fields(build(rows))[1] == "tag"


# --- remarks -----------------------------------------------------------------------------------


def test_letters_are_spelled_out_as_a_remark_explains_them(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Belt width (mm)": (900,) * 4,
            "Splice": ("Q", "Z", "Q", "Q"),
            "Area": ("Q", "Z", "Q", "Q"),
        },
    )
    register = read_register(build([*rows, [], ["Q = hot vulcanised, Z = clips"]]))
    assert (
        register.values["splice_kind"].tolist()
        == ["vulcanised", "mechanical"] + ["vulcanised"] * 2
    )
    # The remark is of splices; where no field has its words, a code stays a code.
    other = read_register(build([*rows, [], ["Q = quarry, Z = zinc shed"]]))
    assert other.values["area"].tolist() == ["Q", "Z", "Q", "Q"]


def test_a_letter_with_two_meanings_has_none(build):
    rows = columns(Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), "Splice": ("Q", "Z", "Q", "Q")})
    book = build([*rows, [], ["Q = hot, Z = clips"], ["Q = clips"]])
    assert fields(book)[-1] is None


def test_a_legend_in_the_heading_is_that_columns_own(build):
    rows = columns(
        Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), "Splice (A=hot, B=clips)": ("A", "B", "A", "B")}
    )
    found = read_register(build(rows))
    assert found.values["splice_kind"].tolist() == ["vulcanised", "mechanical"] * 2


@pytest.mark.parametrize(
    ("remark", "tonnes"),
    [
        # A short ton is 2000 lb of 0.45359237 kg.
        ("T = short ton.", 400 * 2000 * 0.45359237 / 1000),
        ("All weights by the scale house", 400.0),
    ],
)
def test_a_remark_says_what_a_capital_t_is(build, remark, tonnes):
    rows = columns(Tag=TAGS, **{"Lift (ft)": (4, 5, 6, 7), "Design T/h": (400,) * 4})
    assert read_register(build([*rows, [], [remark]])).value(0, "tonnage") == pytest.approx(tonnes)


@pytest.mark.parametrize(
    ("remark", "ton"), [("TPH = short tons", 0.90718474), ("tph = metric", 1.0)]
)
def test_a_remark_says_what_a_ton_is_whatever_the_other_units(build, remark, ton):
    rows = columns(
        Tag=TAGS, **{"Lift (ft)": (4, 5, 6, 7), "Lump (mm)": (90,) * 4, "TPH": (400,) * 4}
    )
    found = read_register(build([*rows, [], [remark]]))
    assert found.value(0, "tonnage") == pytest.approx(400 * ton)


# --- layouts -----------------------------------------------------------------------------------


def test_words_in_the_cells_of_a_sideways_register_are_no_further_labels(build):
    rows = [
        ["Belts of the mill"],
        ["as = measured"],
        [],
        ["Conveyor", None, "B1", "B2", "B3"],
        ["Width", "mm", 900, 800, 750],
        ["Speed", "m/s", 2, 2, 1.5],
        ["Splice", None, "hot vulc", "clips", "clips"],
        ["Material", None, "coal", "coal", "ash"],
        ["Spillage", None, "none", "light", "light"],
        ["Dust", None, "dry", "dry", "wet"],
        ["Seal", None, "single", "dual", "single"],
    ]
    found = read_register(build(rows))
    assert found.values["tag"].tolist() == ["B1", "B2", "B3"]
    assert found.values["belt_width"].tolist() == pytest.approx([0.9, 0.8, 0.75])
    assert found.values["splice_kind"].tolist() == ["vulcanised", "mechanical", "mechanical"]


def test_a_label_left_blank_on_one_form_is_no_group_there(build):
    def form(tag, hood, depth):
        return [
            ["Conveyor no.", tag, None, "Asset no. (accounts)", 5],
            ["Belt width (mm)", 900, None, "Hood shape", hood],
            ["Lift (m)", 4, None, "Dust depth (mm)", depth],
            ["Belt speed (m/s)", 2, None, "Walkway width (mm)", 800],
        ]

    book = build(("F1", form("B1", "round", 5)), ("F2", form("B2", None, 8)))
    found = read_register(book)
    assert found.values["tag"].tolist() == ["B1", "B2"]
    assert found.values["dust_layer_depth"].tolist() == pytest.approx([0.005, 0.008])


# --- headings that are lists or units ----------------------------------------------------------


@pytest.mark.parametrize(
    ("group", "header", "field"),
    [
        ("Belt", "Fabric / steel", "belt_carcass"),
        ("Scrapers", "Spring/air/weight", "cleaner_tensioner"),
        ("Idlers", "Hot / clips", None),  # words of splices, which idlers have none of
        ("Spillage", "t/week", "spilled_mass"),
        ("", "$/HR", None),
    ],
)
def test_headings_that_only_list_words_or_name_a_unit(group, header, field):
    assert match_header(header, group).field == field


def test_a_price_of_nothing_named_is_the_labours_beside_its_hours(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Lift (m)": (4, 5, 6, 7),
            "Spillage": ("light", "none", "light", "heavy"),
            "Cleanup (h/week)": (8, 2, 6, 12),
            "$/HR": (40, 40, 40, 40),
        },
    )
    assert fields(build(rows))[-1] == "labour_rate"
    rows = columns(Tag=TAGS, **{"Lift (m)": (4, 5, 6, 7), "$/HR": (40, 40, 40, 40)})
    assert fields(build(rows))[-1] is None


def test_ranks_of_one_and_two_are_no_answers_to_an_open_heading(build):
    rows = columns(
        Tag=TAGS,
        **{
            "Lift (m)": (4, 5, 6, 7),
            "Sec scraper": ("yes", "no", "no", "yes"),
            "Pri": ("1", "2", "2", "1"),
        },
    )
    assert fields(build(rows))[-1] is None


def test_answers_of_yes_and_no_are_no_levels(build):
    """The "no" of a question about spillage would pass for "none found"."""
    rows = columns(Tag=TAGS, **{"Belt width (mm)": (800, 900, 800, 900)})
    for row, cell in zip(rows, ("Spillage level", "Y", "N", "N", "Y"), strict=True):
        row.append(cell)
    book = build(rows)
    assert fields(book)[-1] is None
    assert "answered with yes and no" in questions(book)["C"]


def test_numbers_are_no_words(build):
    rows = columns(Tag=TAGS, **{"Splice kind": (6.7, 10, 6.7, 6.7)})
    assert fields(build(rows)) == ["tag", None]


def test_belting_that_is_only_named_fabric_or_steel_cord_is_the_carcass(build):
    kinds = ("Fabric", "Fabric", "Steel cord", "Fabric")
    assert fields(build(columns(Tag=TAGS, **{"Belt type": kinds})))[1] == "belt_carcass"
    kinds = ("EP 800/4", "EP 630/4", "ST 1250", "EP 800/4")
    assert fields(build(columns(Tag=TAGS, **{"Belt type": kinds})))[1] == "belt_designation"


BELTS = {"Belt width (mm)": (800, 900, 800, 900), "Belt speed (m/s)": (1.2, 1.5, 1.2, 1.8)}


def test_numbers_under_a_number_sign_tell_the_conveyors_apart(build):
    register = read_register(build(columns(**{"#": (1, 2, "2A", 3)}, **BELTS)))
    assert register.values["tag"].tolist() == ["1", "2", "2A", "3"]


def test_numbers_that_only_count_the_rows_are_no_tags(build):
    """Two sheets that each count from 1 would be joined row by row, whatever stands in them."""
    counted = columns(**{"#": (1, 2, 3, 4)}, **BELTS)
    used = columns(Tag=TAGS, **{"Lump size (mm)": (50, 80, 50, 80)})
    register = read_register(build(("Belts", counted), ("Loads", used)))
    assert register.values["tag"].tolist() == list(TAGS)
    assert any("the whole table was not used" in p.problem for p in register.problems)


def test_a_table_without_tags_is_not_left_out_in_silence(build):
    """Beside a table that is used, one of which nothing tells the conveyors is a problem."""
    nameless = columns(Remark=("dry", "wet", "dry", "wet"), **BELTS)
    used = columns(Tag=TAGS, **{"Lump size (mm)": (50, 80, 50, 80)})
    book = build(("Belts", nameless), ("Loads", used))
    (problem,) = [p for p in read_register(book).problems if p.field == "tag"]
    assert (problem.sheet, problem.text, problem.used) == ("Belts", "headings in row 1", False)
    assert "the whole table was not used" in problem.problem
    # The column map can name its tag: its columns are described.
    assert fields(book, "Belts") == ["notes", "belt_width", "belt_speed"]


def test_a_date_above_the_tags_of_a_register_on_its_side_heads_nothing(build):
    rows = [
        ["SAND CONVEYORS", None, None, None, None],
        ["updated 11/04/24 - planner", None, None, None, None],
        ["Conveyor", None, "SB-1", "SB-2", "SB-3"],
        ["Belt width", "in", 36, 30, 30],
        ["Belt speed", "fpm", 300, 250, 250],
        ["Moisture", "%", 3, 4, 3],
    ]
    register = read_register(build(rows))
    assert register.value(0, "belt_width") == pytest.approx(0.9144)
    assert register.has("belt_speed")
    assert register.has("moisture")
