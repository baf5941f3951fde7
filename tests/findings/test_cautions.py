"""Cautions: whose rules each cites, by the jurisdiction that a limits file names."""

from __future__ import annotations

import pytest

from sheetcheck.checks import CHECKS
from sheetcheck.findings import evaluate
from sheetcheck.findings.cautions import Caution, cautions, jurisdiction_line
from sheetcheck.findings.jurisdiction import INTERNATIONAL, holds_in, places_of
from sheetcheck.findings.limits import parse_limits
from sheetcheck.findings.plant import Ruling
from sheetcheck.findings.results import Findings
from sheetcheck.tables import JURISDICTIONS, REGULATIONS, SOURCES
from tests.conftest import make_register

# The catalogue's list (section 6), in its order.
TITLES = [
    "Stored energy",
    "Start-up warning",
    "Isolate, lock and try",
    "Nip points",
    "No clean-up beside a running belt",
    "Confined space",
    "Silica in dust",
    "Combustible dust",
    "Hot work",
    "Working at height",
    "Manual handling",
    "Splices and metal blades",
    "Run-back on inclines",
]


def named(jurisdiction: str) -> Findings:
    findings = evaluate(make_register([{}]), checks=["cleaning-plough"])
    if jurisdiction:
        plant = parse_limits(f'[plant]\njurisdiction = "{jurisdiction}"\n', "limits.toml")
        findings.ruling = Ruling(plant)
    return findings


def by_title(jurisdiction: str) -> dict[str, Caution]:
    return {caution.title: caution for caution in cautions(named(jurisdiction))}


def test_every_caution_stands_whatever_the_jurisdiction() -> None:
    for jurisdiction in ("", "Ternland", "us", "EU", "Queensland, Australia"):
        assert list(by_title(jurisdiction)) == TITLES


def test_every_caution_cites_a_rule_and_every_rule_of_the_table_is_cited() -> None:
    every = by_title("")
    assert all(caution.rules or caution.elsewhere for caution in every.values())
    cited = {rule for c in every.values() for rule in (*c.rules, *c.elsewhere)}
    # What no caution cites, a check does.
    of_checks = " ".join(
        f"{SOURCES[check.cite.key]['title']} {check.cite.locator}" for check in CHECKS.values()
    )
    for rule in set(REGULATIONS) - cited:
        assert rule.split()[-1] in of_checks, rule
    for line in REGULATIONS.values():
        assert set(filter(None, line["cautions"].split("; "))) <= set(TITLES), line["cite"]


def test_without_a_jurisdiction_it_says_so_and_gives_what_is_of_international_use() -> None:
    assert "No jurisdiction is stated" in jurisdiction_line(named(""))
    for caution in by_title("").values():
        assert all(REGULATIONS[rule]["places"] == INTERNATIONAL for rule in caution.rules)
        assert not any(REGULATIONS[rule]["places"] == INTERNATIONAL for rule in caution.elsewhere)
    # ISO 14118:2017, ISO 14120:2015 and ISO 14122-2, by their published scopes and titles.
    assert "ISO 14118:2017" in by_title("")["Isolate, lock and try"].rules
    assert "ISO 14120:2015" in by_title("")["Nip points"].rules
    assert "ISO 14122-2" in by_title("")["Working at height"].rules


def test_a_jurisdiction_that_the_table_does_not_know_is_said_to_be_unknown() -> None:
    line = jurisdiction_line(named("Ternland"))
    assert "Ternland" in line
    assert "find out what holds there" in line
    assert by_title("Ternland") == by_title("")


# (jurisdiction as written, caution, a rule of it, a rule of elsewhere that must not be first)
OWN = [
    ("us", "Silica in dust", "29 CFR 1910.1053", "COSHH 2002"),
    ("US", "Combustible dust", "NFPA 660 (2025)", "DSEAR 2002"),
    ("Nevada, USA", "Nip points", "30 CFR 56.14107", "EN 620:2021"),
    ("United States", "Start-up warning", "30 CFR 56.14201", "PUWER 1998 reg. 24"),
    ("eu", "Manual handling", "Directive 90/269/EEC", "Model WHS Regulations part 4.2"),
    ("Germany", "Silica in dust", "Directive 2004/37/EC", "29 CFR 1910.1053"),
    ("uk", "Isolate, lock and try", "PUWER 1998 reg. 19", "29 CFR 1910.147"),
    ("Scotland", "Combustible dust", "DSEAR 2002", "Directive 2014/34/EU and 1999/92/EC"),
    ("au", "Confined space", "Model WHS Regulations part 4.3", "29 CFR 1910.146"),
    ("New Zealand", "Nip points", "AS/NZS 4024.3611:2015", "EN 620:2021"),
    ("ca", "Nip points", "Reg. 854 s.196", "30 CFR 56.14107"),
    ("Ontario", "Isolate, lock and try", "Reg. 854 s.196", "29 CFR 1910.147"),
    ("Québec, Canada", "Start-up warning", "CQLR S-2.1, r. 14, s. 373", "30 CFR 56.14201"),
    (
        "South Africa",
        "Run-back on inclines",
        "South African guideline, conveyor belt installations",
        "30 CFR 56.14105",
    ),
]


@pytest.mark.parametrize(("jurisdiction", "title", "own", "other"), OWN)
def test_rules_of_the_jurisdiction_come_first(
    jurisdiction: str, title: str, own: str, other: str
) -> None:
    caution = by_title(jurisdiction)[title]
    assert own in caution.rules
    assert other not in (*caution.rules, *caution.elsewhere)
    places = places_of(jurisdiction)
    firsts = [holds_in(rule, places) for rule in caution.rules]
    assert firsts == sorted(firsts, reverse=True)
    assert jurisdiction in jurisdiction_line(named(jurisdiction))


@pytest.mark.parametrize("jurisdiction", ["us", "eu", "uk", "au", "nz", "ca", "za"])
def test_every_rule_of_a_jurisdiction_is_given_and_none_of_another(jurisdiction: str) -> None:
    places = places_of(jurisdiction)
    of_it = {rule for rule in REGULATIONS if holds_in(rule, places)}
    assert of_it
    given = {rule for caution in by_title(jurisdiction).values() for rule in caution.rules}
    assert of_it - given <= {"30 CFR 75.1731"}  # a check cites it
    anywhere = {rule for rule in REGULATIONS if holds_in(rule, (INTERNATIONAL,))}
    assert given <= of_it | anywhere
    for caution in by_title(jurisdiction).values():
        # Examples stand only where the jurisdiction has nothing of its own.
        assert not (caution.elsewhere and set(caution.rules) & of_it)
        assert caution.rules or caution.elsewhere


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("us", ("US",)),
        ("USA", ("US",)),
        ("US and UK", ("US", "UK")),
        ("the rules that bind us", ()),
        ("Ontario, Canada", ("CA-ON",)),
        ("Canada", ("CA",)),
        ("New Mexico", ("US",)),
        ("Mexico", ()),
        ("South Australia", ("AU",)),
        ("New South Wales", ("AU",)),
        ("Wales", ("UK",)),
        ("India", ()),
        ("Indiana", ("US",)),
        ("", ()),
        ("EU (Ireland)", ("EU",)),
        # Part of a name is another place's.
        ("Northern Ireland", ()),
        ("Northern Ireland, UK", ("UK",)),
        ("Ireland and Northern Ireland", ("EU",)),
        ("New England", ()),
        ("Baja California", ()),
        ("Maine-et-Loire, France", ("EU",)),
        # Towns of these names stand in these states.
        ("Poland, Ohio", ("US",)),
        ("Ontario, California", ("US",)),
        ("Ontario , California, USA", ("US",)),
        ("Poland and Ohio", ("EU", "US")),
        ("U.S.", ("US",)),
        ("U.S.A.", ("US",)),
        ("U.K.", ("UK",)),
        ("Leeds, U.K., and the E.U.", ("UK", "EU")),
    ],
)
def test_a_jurisdiction_is_found_in_the_words_that_name_it(
    text: str, places: tuple[str, ...]
) -> None:
    assert places_of(text) == places


def test_rules_stand_in_places_that_can_be_named() -> None:
    known = {*filter(None, JURISDICTIONS.values()), INTERNATIONAL}
    for line in REGULATIONS.values():
        assert line["places"]
        assert set(line["places"].split()) <= known
