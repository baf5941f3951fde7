"""The limits file: what it says in SI, and the line of whatever cannot be used."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetcheck.checks import CHECKS
from sheetcheck.errors import UnusableCall
from sheetcheck.findings import evaluate, load_limits, parse_limits
from sheetcheck.findings.judge import MARGINAL, MEETS, NOT_JUDGED, SHORT
from sheetcheck.findings.plant import changed, laxer_than_published
from sheetcheck.findings.steps import STEPS
from sheetcheck.register.fields import FIELDS, MEASURING, TOLERANCE_UNITS, Tolerance
from sheetcheck.register.ranges import RANGES
from sheetcheck.report.limits_file import limits_file
from sheetcheck.report.style import BAND_COLOURS
from sheetcheck.toml_lines import LONGEST_LINE, TomlText
from tests.checks.samples import sample_rows
from tests.conftest import make_register

EXAMPLE = Path(__file__).parents[2] / "templates" / "limits.example.toml"
FILE = """\
# An invented plant.
[plant]
jurisdiction = "nowhere"
currency = "EUR"
labour_rate = "52 /h"
operating_hours = 6000

[limits.load-width.share]
value = "60 %"
set_by = "chief engineer"
why = \"\"\"
a narrow belt,
and a dusty one\"\"\"
date = 2026-01-02

[limits.tracking-face]
wide = {value = 6, unit = "in", set_by = "x", why = "y", date = 2026-02-02}

[tolerances]
length = {absolute = "0.5 in"}
rate = {relative = 0.02}

[colours]
meets = {fill = "#ffffff", text = "#000000"}

[[accepted]]
tag = "HS 1"
check = "load-width"
reason = "r"
by = "b"
until = 2027-01-01

[[accepted]]
tag = "HS 2"
check = "seal-edge"
load_point = "north"
reason = "r"
by = "b"
until = 2027-01-01

[steps]
length = "50 mm"
"""


def test_everything_is_read_in_si():
    plant = parse_limits(FILE, "plant.toml")
    assert (plant.file, plant.text) == ("plant.toml", FILE)
    assert (plant.jurisdiction, plant.currency) == ("nowhere", "EUR")
    assert (plant.labour_rate, plant.operating_hours) == (52.0, 6000.0)
    # 1 in = 0.0254 m: international yard and pound agreement, 1959.
    assert plant.values == {
        "load-width": {"share": pytest.approx(0.6)},
        "tracking-face": {"wide": pytest.approx(6 * 0.0254)},
    }
    share = plant.limit("load-width", "share")
    assert (share.written, share.set_by, share.date) == (
        "60 %",
        "chief engineer",
        date(2026, 1, 2),
    )
    assert share.why == "a narrow belt, and a dusty one"
    assert plant.limit("load-width", "no such") is None
    # What is left out of a tolerance keeps its default.
    length = Tolerance(pytest.approx(0.0127), MEASURING["length"].relative)
    assert plant.steps == {"length": pytest.approx(0.05)}
    assert plant.tolerances == {"length": length, "rate": Tolerance(0.0, 0.02)}
    assert plant.colours == {"meets": ("#FFFFFF", "#000000")}
    assert [(x.tag, x.check, x.load_point) for x in plant.accepted] == [
        ("HS 1", "load-width", ""),
        ("HS 2", "seal-edge", "north"),
    ]


DECIDED = 'set_by = "x"\nwhy = "y"\ndate = 2026-01-02\n'
ERRORS = [
    # what is written instead of what, the line it stands on, and what the message must say
    ('currency = "EUR"', "currency = 3", 4, "is not text"),
    ("[plant]", "[plants]", 2, "Did you mean plant"),
    ('"52 /h"', "true", 5, "is not a number"),
    ('"52 /h"', '"52 mm"', 5, "does not measure"),
    ('"52 /h"', "-1", 5, "cannot be -1"),
    ("6000", "8785", 6, "0 to 8784"),
    ("6000", "inf", 6, "is not a number"),
    ("6000", "9" * 400, 6, "is not a number"),
    ("operating_hours", "hours", 6, "is no key"),
    ("load-width.share", "load-widht.share", 8, "Did you mean load-width"),
    ("load-width.share", "load-width.shore", 8, "Did you mean share"),
    ("load-width.share", "seal-kind.share", 8, "no limit to change"),
    ('"60 %"', '"60"', 9, "has no unit"),
    ('"60 %"', '"60 mm"', 9, "does not measure share"),
    ('"60 %"', '"sixty"', 9, "is not a number with a unit"),
    ('"60 %"', '"-10 %"', 9, "share cannot be -0.1. Give 0 to 1"),
    ('"60 %"', '"60 1"', 9, "is not a number with a unit"),
    ("value = 6", "value = -6", 17, "Give 0 m or more"),
    ('"60 %"', '"60 %"\nunit = "%"', 9, "has a unit already"),
    ('set_by = "chief engineer"', "", 8, "set_by is missing from limits.load-width.share"),
    ('"chief engineer"', '" "', 10, "is empty"),
    ("date = 2026-01-02", "date = 2026-01-02T10:00:00", 14, "is not a date"),
    ("date = 2026-01-02", "dated = 2026-01-02", 14, "Did you mean date"),
    ('value = 6, unit = "in"', "value = 6", 17, "has no unit"),
    ('unit = "in"', "unit = 1", 17, "is not text"),
    ("{value = 6", "{valu = 6", 17, "Did you mean value"),
    ("length = {", "lenght = {", 20, "Did you mean length"),
    ('"0.5 in"', '"0.5 kg"', 20, "does not measure length"),
    ("relative = 0.02", 'absolute = "1 t/h"', 21, "is no key"),
    ("relative = 0.02", "relative = 1.5", 21, "cannot be 1.5"),
    ("meets = {", "met = {", 24, "is no band"),
    ("#ffffff", "white", 24, "is not a colour"),
    ("#ffffff", "#444444", 24, "too little to read"),
    ('tag = "HS 1"', "", 26, "tag is missing from accepted"),
    ('check = "seal-edge"', 'check = "seal-edges"', 35, "Did you mean seal-edge"),
    ('check = "seal-edge"', 'check = "seal-chute-max"', 35, "no verdict"),
    ("until = 2027-01-01", 'until = "2027-01-01"', 31, "without quotes"),
    ("[[accepted]]", "[accepted]", 33, "not valid TOML"),
    ("date = 2026-01-02", "date = ", 14, "not valid TOML"),
    ('reason = "r"', 'reason = "r', 29, "not valid TOML"),
    ('currency = "EUR"', 'currency = "EUR"\ncurrency = "USD"', 5, "not valid TOML"),
]


@pytest.mark.parametrize(("old", "new", "line", "said"), ERRORS)
def test_what_cannot_be_used_is_named_by_its_line(old, new, line, said):
    assert old in FILE
    text = FILE.replace(old, new, 1)
    with pytest.raises(UnusableCall) as caught:
        parse_limits(text, "p.toml")
    assert caught.value.where == f"p.toml, line {line}"
    assert said in str(caught.value)
    assert caught.value.what_to_do.endswith((".", "?"))


def set_limits(check: str, **values: str) -> str:
    return "".join(
        f'[limits.{check}.{name}]\nvalue = "{value}"\n{DECIDED}' for name, value in values.items()
    )


OUT_OF_ORDER = [
    ("load-fill", {"full": "70 %"}, 2, "full of load-fill (70 %) is below comfortable (0.8"),
    ("load-fill", {"comfortable": "110 %"}, 2, "full of load-fill (1 unless set) is below"),
    ("load-fill", {"full": "70 %", "comfortable": "71 %"}, 2, "is below comfortable (71 %)"),
    ("load-fill", {"comfortable": "71 %", "full": "70 %"}, 7, "is below comfortable (71 %)"),
    ("transition-tension-tail", {"peak_grey": "110 %"}, 2, "is below peak (1.15 unless set)"),
    ("transition-tension-head", {"peak": "131 %"}, 2, "is below peak (131 %)"),
    ("tracking-reach", {"short_reach": "160 ft"}, 2, "(45.72 m unless set) is below short_reach"),
    ("cleaning-carryback", {"one_stage_most": "30 %"}, 2, "is below one_stage_least (0.4"),
    ("cleaning-carryback", {"two_stages_least": "95 %"}, 2, "is below two_stages_least (95 %)"),
    ("load-impact", {"medium": "200 J"}, 2, "is below light (271 J unless set)"),
]


@pytest.mark.parametrize(("check", "values", "line", "said"), OUT_OF_ORDER)
def test_limits_out_of_order_are_refused(check, values, line, said):
    with pytest.raises(UnusableCall) as caught:
        parse_limits(set_limits(check, **values), "p.toml")
    assert caught.value.where == f"p.toml, line {line}"
    assert said in str(caught.value)


def test_limits_that_are_equal_or_moved_together_are_in_order():
    for both in ("70 %", "130 %"):
        plant = parse_limits(set_limits("load-fill", full=both, comfortable=both), "p.toml")
        assert len(set(plant.values["load-fill"].values())) == 1


def test_a_limit_that_must_not_be_below_another_is_declared_in_order():
    declared = [
        (limit, check.limits[limit.not_below])
        for check in CHECKS.values()
        for limit in check.limits.values()
        if limit.not_below
    ]
    assert len(declared) >= 8
    for high, low in declared:
        assert high.value >= low.value
        assert high.unit == low.unit


SHARES = [
    (key, name)
    for key, check in CHECKS.items()
    for name, limit in check.limits.items()
    if "removes" in limit.meaning or "remove" in limit.meaning or "of belt width" in limit.meaning
]


@pytest.mark.parametrize(("key", "name"), SHARES)
def test_a_share_of_a_whole_written_as_a_percentage_is_refused(key, name):
    """90 for 90 % would have a cleaner leave less than nothing."""
    text = f'[limits.{key}.{name}]\nvalue = 90\nunit = "{{}}"\n' + DECIDED
    for other, limit in CHECKS[key].limits.items():  # what must not be below it goes up with it
        if limit.not_below == name:
            text += f'[limits.{key}.{other}]\nvalue = "90 %"\n' + DECIDED
    assert parse_limits(text.format("%"), "p").limit(key, name).value == pytest.approx(0.9)
    with pytest.raises(UnusableCall, match=r"p, line 2: \w+ cannot be 90\. Give 0 to 1"):
        parse_limits(text.format("1"), "p")


def test_a_file_that_cannot_be_read_says_why(tmp_path):
    missing = tmp_path / "none.toml"
    with pytest.raises(UnusableCall, match="no such file"):
        load_limits(missing)
    missing.write_bytes(b"\xff\xfe[\x00")
    with pytest.raises(UnusableCall, match="not UTF-8"):
        load_limits(missing)
    missing.write_bytes(b"\xef\xbb\xbf" + FILE.replace("\n", "\r\n").encode())
    assert load_limits(missing).text == FILE
    with pytest.raises(UnusableCall, match=r"line 2: the line is longer than 15,000"):
        parse_limits("#\n#" + "x" * LONGEST_LINE, "p.toml")


@pytest.mark.parametrize("value", ["9" * 5000, "[" * 5000])
def test_what_the_parser_itself_cannot_take_is_refused(value):
    with pytest.raises(UnusableCall, match=r"p\.toml"):
        parse_limits(f"[plant]\nlabour_rate = {value}\n", "p.toml")


@given(st.data())
def test_any_text_is_read_or_refused_with_its_line(data):
    text = FILE
    pieces = st.sampled_from(
        [*'="[]{}\n.1#', "nan", "true", "12:00:00", "[[accepted]]", "[plant]"]
    )
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        stop = start + data.draw(st.sampled_from([0, 1, 5, 20]))
        text = text[:start] + data.draw(pieces) + text[stop:]
    try:
        plant = parse_limits(text, "p.toml")
    except UnusableCall as error:
        number = int(error.where.removeprefix("p.toml, line "))
        assert 1 <= number <= text.count("\n") + 1
    else:
        assert plant.text == text


@given(st.lists(st.sampled_from(["", "# note", "  # [plant]"]), max_size=30), st.data())
def test_lines_are_found_wherever_they_stand(filler, data):
    lines = FILE.split("\n")
    inside = range(lines.index('why = """'), lines.index('and a dusty one"""') + 1)
    for extra in filler:
        at = data.draw(st.integers(0, len(lines)))
        if at - 1 not in inside or at - 1 == inside[-1]:
            inside = range(inside.start + (at <= inside.start), inside.stop + (at < inside.stop))
            lines.insert(at, extra)
    toml = TomlText("\n".join(lines), "p.toml")

    def number(text: str) -> int:
        return 1 + next(at for at, line in enumerate(lines) if line.startswith(text))

    assert toml.line("plant", "currency") == number("currency")
    assert toml.line("limits", "load-width", "share") == number("[limits.load-width.share]")
    assert toml.line("limits", "load-width", "share", "why") == number("why")
    assert toml.line("limits", "load-width", "share", "date") == number("date")
    assert toml.line("limits", "tracking-face", "wide", "unit") == number("wide")
    assert toml.line("accepted", 1, "check") == number('check = "seal-edge"')


def test_contrast_of_colours():
    """Ratios "range from 1 to 21" (Web Content Accessibility Guidelines 2.1, definitions).

    #767676 on white, 4.54:1, and #777777, 4.48:1, lie on either side of 4.5:1; their ratios are
    computed by hand from the formula there.
    """
    from sheetcheck.findings.limits import _contrast

    assert _contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert _contrast("#123456", "#123456") == 1.0
    assert _contrast("#FFFFFF", "#767676") == pytest.approx(4.54, abs=0.005)
    assert _contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


# --- ranges and weights ----------------------------------------------------------------------

MORE = """\
[ranges.carry_idler_spacing]
low = "900 mm"
high = "4 ft"
set_by = "chief engineer"
why = "one drawing for all"
date = 2026-01-02

[ranges]
belt_modulus_ep = {low = 60, high = 9_000, unit = "%", set_by = "x", why = "y", date = 2026-02-02}

[weights]
access-guard = 3
load-width = "50 %"
"""


def test_ranges_and_weights_are_read_in_si():
    plant = parse_limits(MORE, "plant.toml")
    # 1 ft = 0.3048 m: international yard and pound agreement, 1959.
    assert [(item.name, item.ends) for item in plant.ranges] == [
        ("carry_idler_spacing", (pytest.approx(0.9), pytest.approx(4 * 0.3048))),
        ("belt_modulus_ep", (pytest.approx(0.6), pytest.approx(90.0))),
    ]
    pitch = plant.range("carry_idler_spacing")
    assert (pitch.set_by, pitch.why, pitch.date) == (
        "chief engineer",
        "one drawing for all",
        date(2026, 1, 2),
    )
    assert plant.range("load_idler_spacing") is None
    assert plant.weights == {"access-guard": 3.0, "load-width": 0.5}
    assert plant.limits == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("ranges.carry_idler_spacing", "ranges.carry_idler_pitch", 1, "carry_idler_spacing"),
        ("ranges.carry_idler_spacing", "ranges.belt_width", 1, "is no range"),
        ('low = "900 mm"\n', "", 1, "low is missing from ranges.carry_idler_spacing"),
        ('"900 mm"', "0.9", 2, "low has no unit"),
        ('"900 mm"', '"900 kg"', 2, "does not measure carry_idler_spacing"),
        ('"900 mm"', '"0 mm"', 2, "more than 0, up to 10 m"),
        ('"4 ft"', '"40 ft"', 3, "high of carry_idler_spacing cannot be 12.192 m"),
        ('"4 ft"', '"800 mm"', 3, "high of carry_idler_spacing is no more than low"),
        ('"4 ft"', '"900 mm"', 3, "belongs in the register"),
        ('"4 ft"', '"4 ft"\nvalue = 1', 4, "'value' is no key"),
        ('why = "one drawing for all"\n', "", 1, "why is missing"),
        ("low = 60", "low = -60", 9, "more than 0"),
        ("access-guard = 3", "access-guard = 0", 12, "more than 0, up to 1000"),
        ("access-guard = 3", 'access-guard = "3 m"', 12, "does not measure"),
        ("access-guard", "access-gaurd", 12, "Did you mean access-guard"),
        ("access-guard", "housekeeping-cost", 12, "is no check that gives a verdict"),
    ],
)
def test_a_range_or_weight_that_cannot_be_is_named_by_its_line(old, new, line, said):
    assert old in MORE
    with pytest.raises(UnusableCall) as caught:
        parse_limits(MORE.replace(old, new, 1), "p.toml")
    assert caught.value.where == f"p.toml, line {line}"
    assert said in str(caught.value)


@given(st.sampled_from(sorted(RANGES)), st.floats(-20, 2000), st.floats(-20, 2000))
def test_any_two_ends_are_a_range_within_what_is_possible_or_refused(name, low, high):
    usual = RANGES[name]
    text = f'[ranges.{name}]\nlow = {low!r}\nhigh = {high!r}\nunit = "{usual.unit}"\n{DECIDED}'
    span = FIELDS[usual.fields[0]].possible
    sound = low < high and (low > 0 if usual.unit == "1" else span.holds(low) and span.holds(high))
    if sound:
        assert parse_limits(text, "p.toml").range(name).ends == (low, high)
    else:
        with pytest.raises(UnusableCall, match=r"p\.toml, line [23]:"):
            parse_limits(text, "p.toml")


# --- the example -----------------------------------------------------------------------------


def uncommented() -> str:
    return re.sub(r"^#(?=[\[\"\w])", "", limits_file(), flags=re.MULTILINE)


def test_the_example_is_current():
    said = "out of date: sheetcheck rules --save templates/limits.example.toml --overwrite"
    assert EXAMPLE.read_text(encoding="utf-8") == limits_file() + "\n", said


def test_the_example_holds_every_default():
    plant = parse_limits(uncommented(), "example")
    every = {(key, name) for key, check in CHECKS.items() for name in check.limits}
    assert {(x.check, x.name) for x in plant.limits} == every
    for own in plant.limits:
        assert not changed(CHECKS[own.check].limits[own.name], own.value)
    assert plant.tolerances == {
        name: Tolerance(pytest.approx(x.absolute), pytest.approx(x.relative))
        for name, x in MEASURING.items()
    }
    assert set(TOLERANCE_UNITS) == set(MEASURING)
    assert {item.name: item.ends for item in plant.ranges} == {
        name: item.ends for name, item in RANGES.items()
    }
    verdicts = {key for key, check in CHECKS.items() if not check.information}
    assert plant.weights == dict.fromkeys(verdicts, 1.0)
    assert plant.steps == {name: metric for name, (metric, _) in STEPS.items()}
    assert plant.colours == BAND_COLOURS
    assert len(plant.accepted) == 1


def test_the_example_as_written_changes_nothing():
    plant = load_limits(EXAMPLE)
    assert (plant.limits, plant.ranges, plant.accepted) == ((), (), ())
    assert (plant.tolerances, plant.weights) == ({}, {})
    assert plant.labour_rate is None


# --- stricter and laxer ----------------------------------------------------------------------

DIRECTED = [
    (key, name)
    for key, check in CHECKS.items()
    for name, limit in check.limits.items()
    if limit.stricter and not check.information
]
# Of two edges of a range that a check states, moving one past the other turns the range round.
_WORST = {SHORT: 3, NOT_JUDGED: 2, MARGINAL: 1, MEETS: 0}


@pytest.mark.parametrize(("key", "name"), DIRECTED)
def test_a_laxer_limit_makes_no_verdict_worse(key, name):
    limit = CHECKS[key].limits[name]
    register = make_register(sample_rows(40, seed=11, missing=0.05))
    usual = evaluate(register, checks=[key], flips=False).results[key].band
    factor = 0.97 if limit.stricter == "higher" else 1.03
    assert changed(limit, limit.value * factor)
    published = limit.cite.grade in "SQD"
    assert laxer_than_published(limit, limit.value * factor) == published
    assert not laxer_than_published(limit, limit.value / factor)
    assert not laxer_than_published(limit, limit.value)
    laxer = {key: {name: limit.value * factor}}
    band = evaluate(register, laxer, checks=[key], flips=False).results[key].band
    for before, after in zip(usual.tolist(), band.tolist(), strict=True):
        assert _WORST.get(after, 0) <= _WORST.get(before, 0)
