"""Registers in each layout, the truth beside each."""

from __future__ import annotations

import pytest

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import describe_columns, read_register


def values(register, *names):
    """Rows of the named fields."""
    return [tuple(register.value(row, name) for name in names) for row in range(len(register))]


def texts(register):
    return [problem.problem for problem in register.problems]


HEAD = ["Tag", "Belt width (mm)", "Belt speed (m/s)"]


def test_title_rows_spacers_and_blank_columns(build):
    register = read_register(
        build(
            [
                ["BERTH 9 CONVEYORS"],
                ["Revision", "C"],
                [],
                [None, None, *HEAD],
                [],
                [None, None, "CV-1", 900, 1.5],
                [],
                [],
                [None, None, "CV-2", 1200, 2.5],
            ]
        )
    )
    assert values(register, "tag", "belt_width", "belt_speed") == [
        ("CV-1", 0.9, 1.5),
        ("CV-2", 1.2, 2.5),
    ]
    assert register.cells.address(0, "belt_width") == "Conveyors!D6"
    assert register.cells.address(1, "belt_speed") == "Conveyors!E9"


def test_three_heading_rows_with_merged_groups_and_units(build):
    register = read_register(
        build(
            [
                ["REGISTER"],
                ["No.", "BELT", None, "TAIL END", None, "HEAD END", None],
                [
                    "Tag",
                    "Width",
                    "Speed",
                    "Transition",
                    "Pulley face",
                    "Transition",
                    "Pulley face",
                ],
                [None, "(mm)", "(m/s)", "(mm)", "(mm)", "(mm)", "(mm)"],
                ["CV-1", 900, 1.5, 1800, 1050, 2400, 1060],
                ["CV-2", 1200, 2.5, 2600, 1400, 3600, 1410],
            ],
            merged=["B2:C2", "D2:E2", "F2:G2"],
        )
    )
    assert values(
        register,
        *("tag", "belt_width", "tail_transition_length", "pulley_face_tail"),
        *("head_transition_length", "pulley_face_head"),
    ) == [("CV-1", 0.9, 1.8, 1.05, 2.4, 1.06), ("CV-2", 1.2, 2.6, 1.4, 3.6, 1.41)]
    assert register.columns[3].header == "TAIL END | Transition | (mm)"
    assert register.columns[3].unit == "mm"


def test_group_headings_that_were_never_merged(build):
    register = read_register(
        build(
            [
                [None, "Belt", None, "Tail end", None],
                ["Tag", "Width (mm)", "Speed (m/s)", "Transition (mm)", "Pulley face (mm)"],
                ["CV-1", 900, 1.5, 1800, 1050],
            ]
        )
    )
    assert values(register, "belt_width", "tail_transition_length", "pulley_face_tail") == [
        (0.9, 1.8, 1.05)
    ]


def test_headings_merged_downwards(build):
    register = read_register(
        build(
            [
                ["Tag", "Transition", None, "Trough angle (°)"],
                [None, "Tail (mm)", "Head (mm)", None],
                ["CV-1", 1800, 2400, 35],
            ],
            merged=["A1:A2", "B1:C1", "D1:D2"],
        )
    )
    assert values(
        register, "tag", "tail_transition_length", "head_transition_length", "trough_angle"
    ) == [("CV-1", 1.8, 2.4, 35.0)]


def test_sections_totals_repeated_headings_and_notes_are_left_out_and_listed(build):
    register = read_register(
        build(
            [
                HEAD,
                ["AREA 100 – RECEIVING"],
                ["CV-1", 900, 1.5],
                ["Subtotal", 900],
                HEAD,
                ["AREA 200 – CRUSHING"],
                ["CV-2", 1200, 2.5],
                ["TOTAL", 2100],
                [],
                ["* measured on site"],
            ]
        )
    )
    assert values(register, "tag", "area", "belt_width") == [
        ("CV-1", "AREA 100 – RECEIVING", 0.9),
        ("CV-2", "AREA 200 – CRUSHING", 1.2),
    ]
    assert register.cells.address(1, "area") == "Conveyors!A6"
    assert [(left_out.row, left_out.reason) for left_out in register.skipped] == [
        (2, "section heading"),
        (4, "total"),
        (5, "repeated heading"),
        (6, "section heading"),
        (8, "total"),
        (10, "note"),
    ]


def test_a_conveyor_of_which_only_the_tag_is_known_is_no_section(build):
    register = read_register(
        build([HEAD, ["HS 01", 900, 1.5], ["HS 02"], ["SECTION 2"], ["HS 03", 900, 1.5]])
    )
    assert [tag for (tag,) in values(register, "tag")] == ["HS 01", "HS 02", "HS 03"]
    assert values(register, "area") == [(None,), (None,), ("SECTION 2",)]


def test_ditto_marks_and_tall_merged_cells_are_carried_down_and_say_so(build):
    register = read_register(
        build(
            [
                ["Tag", "Material", "Belt width (mm)", "Belt speed (m/s)"],
                ["CV-1", "gypsum", 900, 1.5],
                ["CV-2", '"', None, 1.7],
                ["CV-3", "ditto", 1200, "do."],
            ],
            merged=["C2:C3"],
        )
    )
    assert values(register, "material", "belt_width", "belt_speed") == [
        ("gypsum", 0.9, 1.5),
        ("gypsum", 0.9, 1.7),
        ("gypsum", 1.2, 1.7),
    ]
    assert set(register.derived) == {
        (1, "material"),
        (1, "belt_width"),
        (2, "material"),
        (2, "belt_speed"),
    }


def test_a_tag_merged_over_its_load_points(build):
    register = read_register(
        build(
            [
                ["Tag", "Belt width (mm)", "Load point", "Chute width inside (mm)"],
                ["CV-1", 900, "North", 540],
                [None, None, "South", 600],
            ],
            merged=["A2:A3"],
        )
    )
    assert values(register, "tag", "load_point", "chute_width_inside", "belt_width") == [
        ("CV-1", "North", 0.54, 0.9),
        ("CV-1", "South", 0.6, 0.9),
    ]
    assert "another row" in register.derived[1, "belt_width"]
    assert register.cells.address(1, "belt_width") == "Conveyors!B2"


def test_further_rows_of_a_tag_are_numbered_and_their_belt_compared(build):
    register = read_register(
        build([HEAD, ["CV-1", 900, 1.5], ["CV 1", 1000, 1.5], ["CV-2", 900, 1.5]])
    )
    assert values(register, "load_point", "belt_width") == [
        (None, 0.9),
        ("2", 1.0),
        (None, 0.9),
    ]
    (found,) = register.problems
    assert found.cells == ("B2", "B3")
    assert found.field == "belt_width"
    assert found.used


def test_a_row_without_a_tag_is_listed(build):
    register = read_register(build([HEAD, ["CV-1", 900, 1.5], [None, 1200, 2.5], ["TBC", 900, 2]]))
    assert values(register, "tag", "belt_width") == [("CV-1", 0.9)]
    assert [problem.cells for problem in register.problems] == [("A3",), ("A4",)]
    assert [left_out.reason for left_out in register.skipped] == ["no tag", "no tag"]


def test_hidden_rows_and_columns_are_read_and_marked(build):
    def hide(book):
        sheet = book.active
        sheet.row_dimensions[3].hidden = True
        sheet.column_dimensions["B"].hidden = True

    register = read_register(build([HEAD, ["CV-1", 900, 1.5], ["CV-2", 1200, 2.5]], change=hide))
    assert values(register, "tag", "belt_width") == [("CV-1", 0.9), ("CV-2", 1.2)]
    assert "hidden column" in register.columns[1].why
    (found,) = register.problems
    assert (found.cells, found.used) == (("A3",), True)


def test_two_tables_one_below_the_other(build):
    register = read_register(
        build(
            [
                ["Belts"],
                HEAD,
                ["CV-1", 900, 1.5],
                ["CV-2", 1200, 2.5],
                [],
                ["Chutes"],
                ["Conveyor no.", "Chute width inside (mm)", "Skirt length (m)"],
                ["CV-2", 720, 5],
                ["CV-1", 540, 3],
            ]
        )
    )
    assert values(register, "tag", "belt_width", "chute_width_inside", "skirt_length") == [
        ("CV-1", 0.9, 0.54, 3.0),
        ("CV-2", 1.2, 0.72, 5.0),
    ]
    assert register.cells.address(0, "chute_width_inside") == "Conveyors!B9"


def test_two_tables_side_by_side(build):
    register = read_register(
        build(
            [
                [*HEAD, None, "Tag", "Lump size (mm)", "Skirt length (m)"],
                ["CV-1", 900, 1.5, None, "CV-1", 150, 3],
                ["CV-2", 1200, 2.5, None, "CV-2", 200, 5],
            ]
        )
    )
    assert values(register, "tag", "belt_width", "lump_size", "skirt_length") == [
        ("CV-1", 0.9, 0.15, 3.0),
        ("CV-2", 1.2, 0.2, 5.0),
    ]


def test_two_tables_of_the_same_kind_are_one_register(build):
    register = read_register(
        build({"North": [HEAD, ["CV-1", 900, 1.5]], "South": [HEAD, ["CV-2", 1200, 2.5]]})
    )
    assert values(register, "tag", "belt_width") == [("CV-1", 0.9), ("CV-2", 1.2)]
    assert register.problems == []
    assert register.cells.main(1) == ("South", 2)
    assert register.source.sheets_read == ("North", "South")


def test_sheets_are_joined_by_tag_however_it_is_spelt(build):
    register = read_register(
        build(
            {
                "Belts": [HEAD, ["CV 101", 900, 1.5], ["CV 102", 1200, 2.5]],
                "Cleaners": [
                    ["Tag", "Primary cleaner", "Secondary cleaner"],
                    ["CV-102", "Y", "N"],
                    ["cv101", "Y", "Y"],
                    ["CV-999", "N", "N"],
                ],
            }
        )
    )
    assert values(register, "tag", "belt_width", "secondary_cleaner") == [
        ("CV 101", 0.9, True),
        ("CV 102", 1.2, False),
        ("CV-999", None, False),
    ]
    joined, alone = register.problems
    assert joined.cells == ("A2", "A3")
    assert "joined" in joined.problem
    assert (alone.sheet, alone.cells) == ("Cleaners", ("A4",))
    assert "on this sheet only" in alone.problem


def test_the_fuller_sheet_is_the_main_one_wherever_it_stands(build):
    register = read_register(
        build(
            {
                "Cleaners": [["Tag", "Primary cleaner"], ["CV-1", "Y"]],
                "Belts": [HEAD, ["CV-1", 900, 1.5], ["CV-2", 900, 1.5]],
            }
        )
    )
    assert register.cells.main(0) == ("Belts", 2)
    assert values(register, "tag", "primary_cleaner") == [("CV-1", True), ("CV-2", None)]


def test_a_sheet_of_load_points_multiplies_the_conveyor(build):
    register = read_register(
        build(
            {
                "Belts": [
                    [*HEAD, "Trough angle (°)"],
                    ["CV-1", 900, 1.5, 35],
                    ["CV-2", 900, 2, 35],
                ],
                "Loading": [
                    ["Tag", "Load point", "Chute width inside (mm)"],
                    ["CV-1", "Gate 1", 540],
                    ["CV-1", "Gate 2", 600],
                ],
            }
        )
    )
    assert values(register, "tag", "load_point", "belt_width", "chute_width_inside") == [
        ("CV-1", "Gate 1", 0.9, 0.54),
        ("CV-1", "Gate 2", 0.9, 0.6),
        ("CV-2", None, 0.9, None),
    ]
    assert [register.cells.main(row) for row in range(3)] == [
        ("Belts", 2),
        ("Belts", 2),
        ("Belts", 3),
    ]


def test_one_chute_of_two_load_points_is_not_guessed(build):
    register = read_register(
        build(
            {
                "Belts": [
                    [*HEAD, "Load point", "Skirt length (m)"],
                    ["CV-1", 900, 1.5, "Gate 1", 3],
                    ["CV-1", 900, 1.5, "Gate 2", 4],
                ],
                "Chutes": [["Tag", "Chute width inside (mm)"], ["CV-1", 540]],
            }
        )
    )
    assert values(register, "chute_width_inside") == [(None,), (None,)]
    assert any("several load points" in text for text in texts(register))


def test_what_is_said_of_the_conveyor_holds_for_all_its_load_points(build):
    """One column about loads costs no other column of the row its values."""
    register = read_register(
        build(
            {
                "Belts": [
                    [*HEAD, "Load point", "Skirt length (m)"],
                    ["CV-1", 900, 1.5, "Gate 1", 3],
                    ["CV-1", 900, 1.5, "Gate 2", 4],
                ],
                "Condition": [
                    ["Tag", "Belt wander (mm)", "Emergency stop", "Clean-up (h/week)"],
                    ["CV-1", 25, "no", 6],
                ],
            }
        )
    )
    assert values(register, "emergency_stop", "cleanup_hours") == [(False, 6.0), (False, 6.0)]
    assert values(register, "belt_wander") == [(None,), (None,)]
    (found,) = [problem for problem in register.problems if not problem.used]
    assert (found.sheet, found.cells, found.field) == ("Condition", ("B2",), "belt_wander")
    assert "several load points" in found.problem


def test_sheets_that_disagree(build):
    register = read_register(
        build(
            {
                "Belts": [[*HEAD, "Trough angle (°)"], ["CV-1", 900, 1.5, 35]],
                "Chutes": [
                    ["Tag", "Chute width inside (mm)", "Belt width (in)", "Lump size (mm)"],
                    ["CV-1", 540, 48, 100],
                ],
            }
        )
    )
    assert values(register, "belt_width") == [(0.9,)]
    (found,) = register.problems
    assert found.cells == ("B2", "Chutes!C2")
    assert "disagree" in found.problem


def test_a_sideways_register(build):
    register = read_register(
        build(
            {
                "Data": [
                    ["Conveyor data"],
                    [],
                    ["Conveyor No.", "unit", "CV-1", "CV-2", "Remarks"],
                    ["BELT"],
                    ["Width", "mm", 900, 1200, "new in spring"],
                    ["Speed", "m/s", 1.5, 2.5],
                    ["TAIL END"],
                    ["Transition length", "mm", 1800, "2.6 m"],
                    ["Pulley face", "mm", 1050, 1400],
                    ["Primary cleaner", None, "Y", "N"],
                ]
            }
        )
    )
    assert values(register, "tag", "belt_width", "tail_transition_length", "pulley_face_tail") == [
        ("CV-1", 0.9, 1.8, 1.05),
        ("CV-2", 1.2, 2.6, 1.4),
    ]
    assert register.cells.address(1, "tail_transition_length") == "Data!D8"
    assert register.cells.address(1, "tag") == "Data!D3"


def form(tag, width, transition, unit):
    return [
        ["CONVEYOR DATA SHEET"],
        [],
        ["Conveyor No.:", tag, None, "Material:", "limestone"],
        ["BELT"],
        ["Width", width, "mm", "Speed", 1.6, "m/s"],
        ["Carcass", "fabric", None, "Splice", "vulcanised"],
        ["TAIL END"],
        ["Transition length", transition, unit, "Pulley face", 1050, "mm"],
        ["Trough angle", "35°"],
    ]


def test_one_form_per_conveyor(build):
    register = read_register(
        build({"CV-1": form("CV-1", 900, 1800, "mm"), "CV-2": form("CV-2", 1200, 2.6, "m")})
    )
    assert values(
        register,
        *("tag", "material", "belt_width", "belt_speed", "belt_carcass", "splice_kind"),
        *("tail_transition_length", "pulley_face_tail", "trough_angle"),
    ) == [
        ("CV-1", "limestone", 0.9, 1.6, "fabric", "vulcanised", 1.8, 1.05, 35.0),
        ("CV-2", "limestone", 1.2, 1.6, "fabric", "vulcanised", 2.6, 1.05, 35.0),
    ]
    assert register.cells.address(1, "tail_transition_length") == "'CV-2'!B8"
    assert register.cells.main(1) == ("CV-2", 3)


def test_forms_one_below_the_other(build):
    register = read_register(
        build({"Forms": [*form("CV-1", 900, 1800, "mm"), [], *form("CV-2", 1200, 2600, "mm")]})
    )
    assert values(register, "tag", "belt_width", "tail_transition_length") == [
        ("CV-1", 0.9, 1.8),
        ("CV-2", 1.2, 2.6),
    ]


def test_forms_named_by_their_sheets_alone(build):
    def plain(width):
        return [
            ["Belt width", width, "mm"],
            ["Belt speed", 1.6, "m/s"],
            ["Trough angle", 35, "°"],
            ["Primary cleaner", "Y"],
        ]

    register = read_register(build({"CV-1": plain(900), "CV-2": plain(1200)}))
    assert values(register, "tag", "belt_width") == [("CV-1", 0.9), ("CV-2", 1.2)]


def test_only_the_named_sheet_is_read(build):
    path = build({"North": [HEAD, ["CV-1", 900, 1.5]], "South": [HEAD, ["CV-2", 1200, 2.5]]})
    assert values(read_register(path, sheet="south"), "tag") == [("CV-2",)]


def test_sheets_about_other_things_are_left_alone(build):
    register = read_register(
        build(
            {
                "Cover": [["Register of conveyors"], ["Issued for use"]],
                "Conveyors": [HEAD, ["CV-1", 900, 1.5]],
                "Motors": [["Tag", "Power (kW)", "Speed (rpm)"], ["M-1", 55, 1480]],
                "Spares": [["Item", "Description", "In stock"], [1, "Roll 152 dia.", 14]],
            }
        )
    )
    assert values(register, "tag") == [("CV-1",)]
    assert register.source.sheets_read == ("Conveyors",)


def test_description_names_tables_questions_and_missing_fields(build):
    found = describe_columns(
        build([["Tag", "Belt width (mm)", "Transition length (mm)"], ["CV-1", 900, 1800]])
    )
    assert found.tables == [("Conveyors", 1, 1, 1, "table")]
    ((sheet, column, question),) = found.questions
    assert (sheet, column) == ("Conveyors", "C")
    assert "tail_transition_length" in question
    assert "belt_speed" in found.missing
    assert "belt_width" not in found.missing


def test_all_sizes_in_one_unit_says_a_line_above(build):
    register = read_register(
        build(
            [
                ["All dimensions in mm unless noted"],
                ["Tag", "Belt width", "Skirt length", "Trough angle"],
                ["CV-1", 900, 3000, 35],
            ]
        )
    )
    assert values(register, "belt_width", "skirt_length") == [(0.9, 3.0)]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_few_rows_are_enough(build, count):
    rows = [[f"CV-{number}", 900, 1.5] for number in range(count)]
    assert len(read_register(build([HEAD, *rows]))) == count


def test_rows_of_words_are_no_headings(build):
    head = ["Tag", "Service", "Skirt seal", "Primary blade", "Splice", "Primary cleaner"]
    rows = [
        [f"CV-{number}", "Tail belt to head chute", "dual lip", "urethane", "mechanical", "Y"]
        for number in range(30)
    ]
    register = read_register(build([head, *rows]))
    assert len(register) == 30
    assert register.skipped == []
    assert set(register.values["seal_kind"]) == {"dual lip"}


def test_an_older_copy_of_the_same_conveyors_is_no_further_load_point(build):
    rows = [["CV-1", 900, 1.5], ["CV-2", 1200, 2.5], ["CV-3", 1200, 2.5]]
    older = [["CV-1", 900, 1.5], ["CV-2", 1000, 2.5]]
    register = read_register(build({"Now": [HEAD, *rows], "Survey of old": [HEAD, *older]}))
    assert values(register, "tag", "belt_width") == [("CV-1", 0.9), ("CV-2", 1.2), ("CV-3", 1.2)]
    (found,) = register.problems
    assert found.cells == ("B3", "'Survey of old'!B3")
    assert "disagree" in found.problem


def test_a_hidden_sheet_is_read_and_marked(build):
    def hide(book):
        book["South"].sheet_state = "hidden"

    register = read_register(
        build(
            {"North": [HEAD, ["CV-1", 900, 1.5]], "South": [HEAD, ["CV-2", 1200, 2.5]]},
            change=hide,
        )
    )
    assert values(register, "tag") == [("CV-1",), ("CV-2",)]
    (found,) = register.problems
    assert (found.sheet, found.used) == ("South", True)
    assert "hidden" in found.problem


def test_two_tags_in_one_cell_are_one_conveyor(build):
    register = read_register(
        build(
            {
                "Belts": [HEAD, ["38-F (XX-CV-01)", 900, 1.5]],
                "Cleaners": [["Tag", "Primary cleaner"], ["XX-CV-01", "Y"]],
            }
        )
    )
    assert values(register, "tag", "primary_cleaner") == [("38-F (XX-CV-01)", True)]


def test_a_column_headed_conveyor_is_the_tag_or_what_it_does(build):
    tags = read_register(build([["Conveyor", "Belt width (mm)"], ["CV-1", 900], ["CV-2", 900]]))
    assert values(tags, "tag") == [("CV-1",), ("CV-2",)]
    both = [["Tag", "Conveyor", "Belt width (mm)"], ["CV-1", "Tail feed", 900]]
    named = read_register(build(both, name="named.xlsx"))
    assert values(named, "tag", "service") == [("CV-1", "Tail feed")]


def test_row_numbers_are_no_tags(build):
    with pytest.raises(UnusableInput, match="tags"):
        read_register(build([["No.", "Belt width (mm)", "Lift (m)"], [1, 900, 3], [2, 900, 4]]))
    register = read_register(
        build([["No.", "Belt width (mm)", "Lift (m)"], ["B12", 900, 3]], name="tags.xlsx")
    )
    assert values(register, "tag") == [("B12",)]


def test_a_question_names_the_cell_of_its_heading(build):
    rows = [["Tag", "Transition", "Belt width"], [None, "mm", "mm"], ["CV-1", 1800, 900]]
    upright = read_register(build(rows))
    assert [found.cells for found in upright.problems] == [("B1",)]
    turned = [list(line) for line in zip(*rows, strict=True)]
    turned = [[*line, other] for line, other in zip(turned, ["CV-2", 2600, 1200], strict=True)]
    sideways = read_register(build(turned, name="sideways.xlsx"))
    assert [found.cells for found in sideways.problems] == [("A2",)]


def test_pages_and_remarks_between_rows_are_no_sections(build):
    register = read_register(
        build(
            [
                [*HEAD, "Notes"],
                ["AREA 1"],
                ["CV-1", 900, 1.5, "guards"],
                [None, None, None, "renewed in spring"],
                ["Page 2 of 3"],
                ["Note: walked by two persons"],
                ["CV-2", 900, 1.5],
            ]
        )
    )
    assert values(register, "tag", "area") == [("CV-1", "AREA 1"), ("CV-2", "AREA 1")]
    assert [left_out.reason for left_out in register.skipped] == [
        "section heading",
        "note",
        "note",
        "note",
    ]


def test_a_tag_that_was_never_calculated_says_so(build):
    register = read_register(build([HEAD, ["CV-1", 900, 1.5], ["=A2&1", 900, 1.5]]))
    assert values(register, "tag") == [("CV-1",)]
    (found,) = register.problems
    assert found.cells == ("A3",)
    assert "left out" in found.problem
    assert "never calculated" in found.problem


def test_a_row_of_noes_is_no_row_of_units(build):
    head = ["Tag", "Primary cleaner", "Secondary cleaner", "Tail plough", "Belt width (mm)"]
    register = read_register(build([head, ["TAIL", "N", "N", "N", None], ["C1", *"YYY", 900]]))
    assert values(register, "tag", "tail_plough") == [("TAIL", False), ("C1", True)]
