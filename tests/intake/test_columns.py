"""The column map: saved, edited, used again; its errors name the line."""

from __future__ import annotations

import pytest

from sheetcheck.errors import OutputExists, UnusableCall
from sheetcheck.intake import describe_columns, load_column_map, read_register, save_column_map
from sheetcheck.intake.columns import parse_column_map

ROWS = [
    ["Tag", "Transition length", "Wd", "Belt speed (m/s)"],
    ["CV-1", 1800, 900, 1.5],
    ["CV-2", 2600, 1200, 2.5],
]


def edited(path, *changes):
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def saved(build, tmp_path):
    """A register with a question and an unknown heading, and its column map."""
    workbook = build(ROWS)
    path = tmp_path / "map.toml"
    save_column_map(path, describe_columns(workbook).columns, workbook.name)
    return workbook, path


def test_an_untouched_map_changes_nothing(saved):
    workbook, path = saved
    plain, mapped = (
        read_register(workbook),
        read_register(workbook, column_map=load_column_map(path)),
    )
    # A question that nobody has answered stays one.
    assert any("the column was not used" in problem.problem for problem in plain.problems)
    assert mapped.problems == plain.problems
    assert [(c.field, c.unit) for c in plain.columns] == [
        (c.field, c.unit) for c in mapped.columns
    ]
    for name in plain.values:
        assert plain.values[name].tolist() == mapped.values[name].tolist()


def test_an_edited_map_answers_the_questions(saved):
    workbook, path = saved
    assert not read_register(workbook).has("tail_transition_length")
    edited(
        path,
        (
            'header = "Transition length"\nfield = "?"\nunit = ""',
            'header = "Transition length"\nfield = "tail_transition_length"\nunit = "mm"',
        ),
        (
            'header = "Wd"\nfield = "?"\nunit = ""',
            'header = "Wd"\nfield = "belt_width"\nunit = "mm"',
        ),
        ('field = "belt_speed"', 'field = ""'),
        ('unit = "m/s"', 'unit = ""'),
    )
    register = read_register(workbook, column_map=load_column_map(path))
    assert register.values["tail_transition_length"].tolist() == [1.8, 2.6]
    assert register.values["belt_width"].tolist() == [0.9, 1.2]
    assert not register.has("belt_speed")
    assert register.problems == []
    assert "column map, line" in register.columns[1].why
    assert register.columns[1].confidence == 1


def test_the_map_goes_before_doubts_about_the_unit(build, tmp_path):
    workbook = build([["Tag", "Belt width (mm)"], ["CV-1", 0.9], ["CV-2", 1.2]])
    assert not read_register(workbook).has("belt_width")
    path = tmp_path / "map.toml"
    save_column_map(path, describe_columns(workbook).columns, workbook.name)
    edited(path, ('field = "?"\nunit = ""', 'field = "belt_width"\nunit = "m"'))
    register = read_register(workbook, column_map=load_column_map(path))
    assert register.values["belt_width"].tolist() == [0.9, 1.2]


def test_a_workbook_whose_headings_changed_since(saved, build):
    _, path = saved
    changed = build([["Tag", "Transition, tail (mm)"], ["CV-1", 1800]], name="changed.xlsx")
    register = read_register(changed, column_map=load_column_map(path))
    gone = [found for found in register.problems if "column map" in found.problem]
    assert {found.text for found in gone} == {"Transition length", "Wd", "Belt speed (m/s)"}
    assert all("line" in found.problem for found in gone)


def test_headings_that_stand_twice_are_told_by_their_column(build, tmp_path):
    workbook = build([["Tag", "Length (m)", "Length (m)"], ["CV-1", 48, 3]])
    path = tmp_path / "map.toml"
    save_column_map(path, describe_columns(workbook).columns, workbook.name)
    text = path.read_text(encoding="utf-8")
    one, two = (f'column = "{letter}"\nheader = "Length (m)"\nfield = ' for letter in "BC")
    assert one in text
    assert two in text
    lines = []
    for block in text.split("\n\n"):
        for start, field in ((one, "conveyor_length"), (two, "skirt_length")):
            if start in block:
                block = block.split("field =")[0] + f'field = "{field}"\nunit = "m"'
        lines.append(block)
    path.write_text("\n\n".join(lines), encoding="utf-8")
    register = read_register(workbook, column_map=load_column_map(path))
    assert register.value(0, "conveyor_length") == 48
    assert register.value(0, "skirt_length") == 3


def test_an_existing_file_is_kept(saved):
    workbook, path = saved
    before = path.read_text(encoding="utf-8")
    with pytest.raises(OutputExists, match="already there"):
        save_column_map(path, [], workbook.name)
    assert path.read_text(encoding="utf-8") == before
    save_column_map(path, [], workbook.name, overwrite=True)
    assert path.read_text(encoding="utf-8") != before


def test_odd_headings_survive(build, tmp_path):
    header = 'Width "at belt"\\edge\n(mm)'
    workbook = build([["Tag", "Belt speed (m/s)", header], ["CV-1", 1.5, 900]])
    path = tmp_path / "map.toml"
    save_column_map(path, describe_columns(workbook).columns, workbook.name)
    found = load_column_map(path)
    assert found.find("Conveyors", "C", " ".join(header.split())) is not None


GOOD = '[[column]]\nsheet = "Conveyors"\nheader = "BW"\nfield = "belt_width"\nunit = "mm"\n'


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (GOOD.replace("belt_width", "beltwidth"), 4, "no field 'beltwidth'"),
        (GOOD.replace('"mm"', '"t/h"'), 5, "does not measure belt_width"),
        (GOOD.replace('"mm"', '"furlong"'), 5, "not a unit"),
        (GOOD.replace("header", "heading"), 3, "'heading' is not known"),
        (GOOD.replace('"mm"', "5"), 5, "not text"),
        (GOOD.replace('header = "BW"\n', ""), 1, "header is missing"),
        (GOOD + "\n" + GOOD.replace("belt_width", "nothing"), 10, "no field 'nothing'"),
        ("[other]\nx = 1\n", 1, "'other' is not known"),
        ('[[column]]\nsheet = "Conveyors\n', 2, "not valid TOML"),
    ],
)
def test_errors_name_the_line(tmp_path, text, line, words):
    path = tmp_path / "map.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UnusableCall) as caught:
        load_column_map(path)
    message = str(caught.value)
    assert "map.toml" in message
    assert f"line {line}" in message
    assert words in message


def test_a_map_that_cannot_be_read(tmp_path):
    with pytest.raises(UnusableCall, match="no such file"):
        load_column_map(tmp_path / "gone.toml")
    path = tmp_path / "latin.toml"
    path.write_bytes('header = "Länge"'.encode("latin-1"))
    with pytest.raises(UnusableCall, match="UTF-8"):
        load_column_map(path)


def test_a_map_by_hand_reads_a_register_of_unknown_headings(build, tmp_path):
    workbook = build([["K1", "K2", "K3"], ["CV-1", 900, 1.5], ["CV-2", 1200, 2.5]])
    path = tmp_path / "map.toml"
    path.write_text(
        "\n".join(
            f'[[column]]\nsheet = "Conveyors"\nheader = "{header}"\n'
            f'field = "{field}"\nunit = "{unit}"'
            for header, field, unit in (
                ("K1", "tag", ""),
                ("K2", "belt_width", "mm"),
                ("K3", "belt_speed", "m/s"),
            )
        ),
        encoding="utf-8",
    )
    register = read_register(workbook, column_map=load_column_map(path))
    assert register.values["tag"].tolist() == ["CV-1", "CV-2"]
    assert register.values["belt_width"].tolist() == [0.9, 1.2]


def test_two_entries_for_one_column_are_refused():
    """Neither could win without a word."""
    entry = '[[column]]\nsheet = "%s"\nheader = "%s"\nfield = "%s"\n'
    text = entry % ("A", "Belt width", "belt_width") + entry % ("a", "BELT  width", "")
    with pytest.raises(UnusableCall, match=r"map.toml, line 5.*column of line 1 again"):
        parse_column_map(text, "map.toml")


def test_a_saved_map_of_tables_below_one_another_is_read(build, tmp_path):
    table = [["Tag", "Belt width (mm)", "Trough angle"], ["CV-1", 900, 35], ["CV-2", 900, 35]]
    workbook = build([*table, [], [], ["Second line"], *table])
    path = tmp_path / "map.toml"
    save_column_map(path, describe_columns(workbook).columns, workbook.name)
    assert load_column_map(path).entries
