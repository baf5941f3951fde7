"""A yes that is bad news is never a plain yes: over a grammar of both, and case by case."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import pytest

import sheetcheck
from sheetcheck.errors import UnusableCall
from sheetcheck.intake import describe_columns, read, read_register
from sheetcheck.intake.columns import parse_column_map
from sheetcheck.intake.polarity import OPPOSITE, bad_news, names_document
from sheetcheck.intake.workbook import Book
from tests.intake.bad_news import Sheet, bad_sheets, grid_of, plain_sheets

# Of the 2,592 plain answers of the grammar, so many were read before polarity was looked at.
READ_BEFORE = 2412


def books(sheets: Iterable[Sheet]):
    """Sheets put together to books of 30; one whose remark speaks for a book stands alone."""
    several = list(sheets)
    rest = [sheet for sheet in several if not sheet.remark]
    yield from ([sheet] for sheet in several if sheet.remark)
    yield from (rest[at : at + 30] for at in range(0, len(rest), 30))


def registers(sheets, monkeypatch):
    """(register, tag to sheet and row in it) of each book, read by the way that all books take."""
    number = 1
    for batch in books(sheets):
        grids, place = [], {}
        for sheet in batch:
            grids.append(grid_of(sheet, f"{sheet.name} {number}", number))
            place |= {f"CV-{number + at:05d}": (sheet, at) for at in range(len(sheet.cells))}
            number += len(sheet.cells) + 1
        book = Book("b.xlsx", "b.xlsx", "", tuple(grid.sheet for grid in grids), tuple(grids))
        monkeypatch.setattr(read, "open_book", lambda *_, book=book: book)
        yield read.read_register("b.xlsx"), place


def answers(sheets, monkeypatch):
    """(sheet, field, heading, cell, value) of every cell of devices that was read."""
    for register, place in registers(sheets, monkeypatch):
        for row in range(len(register)):
            sheet, at = place.get(register.value(row, "tag"), (None, 0))
            for field, heading in sheet.headings if sheet else ():
                yield sheet, field, heading, sheet.cells[at], register.value(row, field)


def test_no_bad_news_is_a_yes(monkeypatch):
    found = list(answers(bad_sheets(), monkeypatch))
    cases = {(s.name, s.title, s.remark, s.group, heading, c) for s, _, heading, c, _ in found}
    kinds = Counter(sheet.kind for sheet, *_ in found)
    assert len(cases) > 4000
    assert min(kinds[kind] for kind in ("heading", "group", "title", "sheet", "remark")) > 200
    assert [one for one in found if one[-1] is True] == []


# No news of what the yes-or-no fields of people say: these are judged by other columns.
ABOUT_PEOPLE = ("access-", "cleaning-plough", "cleaning-stages", "cleaning-duty", "tracking-edge")


def test_no_bad_news_meets_a_check(monkeypatch):
    several = [sheet for sheet in bad_sheets() if not sheet.remark]
    judged = 0
    for register, _ in registers(several[::3], monkeypatch):
        frame = sheetcheck.run_checks(register)
        of_people = frame[frame["check"].str.startswith(ABOUT_PEOPLE)]
        judged += len(of_people)
        assert of_people[of_people["band"] == "meets"].empty
    assert judged > 1000


def test_plain_answers_are_read_as_before(monkeypatch):
    found = list(answers(plain_sheets(), monkeypatch))
    no = ("n", "nein", "no", "não", "non")
    right = [one for one in found if one[-1] is (one[-2].casefold() not in no)]
    assert len(found) == 2592
    assert len(right) >= READ_BEFORE
    assert all(one[-1] is None or one in right for one in found)


def column(build, heading, cells, **more):
    """(description of its column, values read) of a heading over cells."""
    rows = [["Tag", "Belt width mm", heading]]
    rows += [[f"CV-{at + 101}", 1200, cell] for at, cell in enumerate(cells)]
    path = build({more.get("sheet", "Conveyors"): [*more.get("above", ()), *rows]})
    described = describe_columns(path, column_map=more.get("map"))
    register = read_register(path, column_map=more.get("map"))
    values = [register.value(row, more["field"]) for row in range(len(cells))]
    return described.columns[-1], values


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("No guards", "nip_guards"),
        ("Guards missing", "nip_guards"),
        ("Nip guards not fitted", "nip_guards"),
        ("Without tail plough", "tail_plough"),
        ("Reißleine fehlt", "emergency_stop"),
        ("Sin guardas", "nip_guards"),
        ("Sem parada de emergência", "emergency_stop"),
        ("Sans procédure de consignation", "isolation_procedure"),
    ],
)
def test_a_heading_of_absence_turns_its_yes_and_trusts_no_no(build, heading, field):
    told, values = column(build, heading, ("yes", "no", "yes"), field=field)
    assert (told.field, values) == (field, [False, None, False])
    assert OPPOSITE in told.why


def test_what_does_not_bear_on_people_is_turned_both_ways(build):
    told, values = column(build, "Not reversing", ("yes", "no", "yes"), field="reversing")
    assert (told.field, values) == ("reversing", [False, True, False])


@pytest.mark.parametrize(
    ("heading", "more"),
    [
        ("Nip guards", {"above": [["Deficiencies found, March"], []]}),
        ("Nip guards", {"above": [["", "", "Deficiencies found"]]}),
        ("Nip guards", {"sheet": "Missing"}),
        ("Nip guards", {"above": [["Y = not fitted, N = fitted"], []]}),
        ("Guards defective", {}),
        ("Guards inspected", {}),
        ("Guards (tail off)", {}),
        ("Guards frumious", {}),
        ("No guards missing", {}),
        ("Guards good / bad", {}),
        ("Nip guards", {"above": [["Deficiency list", "North", "Rev 2", "12/3/25", "J. B."], []]}),
    ],
)
def test_where_nobody_can_tell_it_is_a_question(build, heading, more):
    told, values = column(build, heading, ("Y", "N", "Y"), field="nip_guards", **more)
    assert (told.field, values) == (None, [None] * 3)


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Reachable without dismantling chutework", "component_reach"),
        ("Not-Halt", "emergency_stop"),
        ("Belt run-off switches", "alignment_switches"),
        ("Isolation procedure no.", "isolation_procedure"),
        ("Guards (Y/N)", "nip_guards"),
    ],
)
def test_a_heading_may_hold_such_a_word_by_its_own_meaning(build, heading, field):
    above = [["Belt list, not for construction"], ["Y = fitted, N = not fitted"], []]
    told, values = column(build, heading, ("Y", "N", "Y"), field=field, above=above)
    assert (told.field, values) == (field, [True, False, True])


def test_a_device_beside_what_is_missing_of_it_is_a_question(build):
    rows = [["Tag", "Belt width mm", "Guards", "Guards missing"]]
    rows += [[f"CV-{at}", 1200, "Y", "Y"] for at in range(4)]
    register = read_register(build(rows))
    assert [register.value(row, "nip_guards") for row in range(4)] == [None] * 4


@pytest.mark.parametrize(
    ("plain", "news", "field"),
    [
        ("Nip guards", "Guards defective", "nip_guards"),
        ("Pull cord fitted", "Pull cord out of order", "emergency_stop"),
        ("Not-Halt vorhanden", "Not-Halt defekt", "emergency_stop"),
        ("Tail plough", "Tail plough worn out", "tail_plough"),
        ("Isolation procedure", "Isolation procedure overdue", "isolation_procedure"),
    ],
)
def test_bad_news_beside_a_yes_takes_it_back_and_leaves_a_no(build, plain, news, field):
    rows = [["Tag", "Belt width mm", "Belt speed m/s", plain, news]]
    cells = [("Y", "Y"), ("Y", "N"), ("Y", None), ("N", "Y"), ("Y", "since May")]
    rows += [[f"CV-{at}", 1200, 2.5, *pair] for at, pair in enumerate(cells)]
    register = read_register(build(rows))
    values = [register.value(row, field) for row in range(5)]
    assert values == [None, True, True, False, None]
    # Nothing is dropped without a word.
    assert {cell for problem in register.problems for cell in problem.cells} >= {"D2", "D6"}


def test_ranks_are_no_yes(build):
    assert column(build, "Guards", (1, 2, 5), field="nip_guards")[1] == [None] * 3


def test_not_reachable_without_dismantling_is_no_plain_yes(build):
    heading = "Not reachable without dismantling chutework"
    _, values = column(build, heading, ("Y", "N", "Y"), field="component_reach")
    assert True not in values


def test_rows_below_a_line_of_bad_news_are_not_used(build):
    rows = [["Tag", "Belt width mm", "Guards"], *([f"CV-{at}", 1200, "Y"] for at in range(4))]
    rows += [["Guards missing"], *([f"CV-{at}", 1200, "Y"] for at in range(4, 8))]
    register = read_register(build(rows))
    assert [register.value(row, "nip_guards") for row in range(8)] == [True] * 4 + [None] * 4


def test_a_cross_among_other_marks_is_no_yes(build):
    for cells, values in (
        (("x", "", "x"), [True, None, True]),
        (("x", "OK", "x"), [None, True, None]),
    ):
        assert column(build, "Guards", cells, field="nip_guards")[1] == values


def test_the_column_map_says_what_a_yes_means(build):
    entry = '[[column]]\nsheet = "Conveyors"\nheader = "Guards bad"\nfield = "nip_guards"\n'
    for said, values in (
        ("", [None, None]),
        ('yes = "there"', [True, False]),
        ('yes = "missing"', [False, None]),
    ):
        decided = parse_column_map(entry + said, "map.toml")
        told, read_as = column(build, "Guards bad", ("Y", "N"), field="nip_guards", map=decided)
        assert read_as == values
        assert bool(said) or 'yes = "there"' in told.why
    with pytest.raises(UnusableCall, match="line 5"):
        parse_column_map(entry + 'yes = "perhaps"', "map.toml")


@pytest.mark.parametrize(
    "text",
    ["IP-101", "SOP 12/3", "LOTO-014 rev 2", "L-01", "HSE-P-012", "issue 3, issued 12/03/2021"],
)
def test_a_document_that_exists_is_a_written_procedure(text):
    assert names_document(text)


@pytest.mark.parametrize(
    "text",
    [
        *("due 2027", "DUE 2027", "draft 2", "IP-101 draft", "SOP 12, due 03/2027", "by 2026"),
        *("WO-1234", "NCR 14", "Q3 2026", "FY27", "JAN 2027", "CV-101", "2027", "P1", ""),
    ],
)
def test_a_date_a_draft_an_order_or_an_action_is_none(text):
    assert not names_document(text)


def test_every_word_of_the_list_is_found_as_it_stands():
    # A word that no text is ever reduced to would be there in vain.
    for kind in ("not", "absent", "bad", "local", "cell"):
        words = [
            word.replace("*", "").replace("#", "1")
            for row in read_rows()
            if row["kind"] == kind
            for word in row["words"].split("|")
        ]
        missed = [word for word in words if not bad_news(word)]
        assert not missed


def read_rows():
    from sheetcheck.data import rows

    return rows("sheetcheck.intake", "polarity.csv")
