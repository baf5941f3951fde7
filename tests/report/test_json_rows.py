"""JSON put together from columns is the JSON that the encoder makes of each row's verdict."""

import numpy as np
import orjson
from hypothesis import given
from hypothesis import strategies as st

from sheetcheck.findings.columns import ABSENT
from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.verdict_columns import VerdictColumns
from sheetcheck.report import json_rows
from sheetcheck.report.json_parts import DIGITS, marks_of
from tests.checks.samples import sample_rows
from tests.conftest import make_register

AWKWARD = ("a,b", "two\nlines", '{,"x":1}', "50 %b", 'quoted "so" \\', "", "Rohförderer", "null")
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.booleans() | st.none()
ITEMS = NUMBERS | st.sampled_from(AWKWARD) | st.lists(NUMBERS) | st.just(ABSENT)


def encoded(item):
    return b"null" if item is ABSENT else orjson.dumps(item)


@given(st.lists(ITEMS, min_size=1) | st.lists(NUMBERS, min_size=1))
def test_a_column_is_each_item_encoded(items):
    assert json_rows._Texts().column(items) == [encoded(item) for item in items]


WORDS = st.sampled_from(AWKWARD) | st.just(ABSENT)
MAPPED = st.tuples(st.just("numbers"), st.lists(st.tuples(ITEMS, ITEMS, ITEMS), min_size=1))
CELLS = st.tuples(st.just("cells"), st.lists(st.tuples(WORDS, WORDS, WORDS), min_size=1))


@given(MAPPED | CELLS)
def test_a_mapping_holds_what_is_there_with_its_commas(drawn):
    attribute, rows = drawn
    lines = json_rows._Lines(len(rows))
    columns = list(zip("abc", map(list, zip(*rows, strict=True)), strict=True))
    json_rows._add_mapping(lines, attribute, columns, json_rows._Texts())
    assert lines.joined() == [
        orjson.dumps({name: x for name, x in zip("abc", row, strict=True) if x is not ABSENT})
        for row in rows
    ]


def test_every_verdict_is_the_one_the_encoder_makes():
    rows = sample_rows(25, seed=5, missing=0.3)
    for row, text in zip(rows, AWKWARD, strict=False):
        row["area"] = text
    findings = evaluate(make_register(rows))
    findings.ruling.accepted["load-width", 3] = 'next shutdown, "so" it was said'
    every = np.arange(len(rows))
    written = orjson.loads(
        b"[" + json_rows.json_rows(findings, every, marks_of(findings))[1:] + b"]"
    )
    columns = VerdictColumns(findings, every, DIGITS)
    for key in findings.results:
        for row, verdict in zip(written, columns.verdicts(key), strict=True):
            wanted = {name: getattr(verdict, name) for name in json_rows._ATTRIBUTES}
            if verdict.accepted:
                wanted["accepted"] = verdict.accepted
            assert orjson.dumps(row["checks"][key]) == orjson.dumps(wanted)
    assert written[3]["checks"]["load-width"]["accepted"] == 'next shutdown, "so" it was said'
    assert [row["values"].get("area", "") for row in written[:8]] == list(AWKWARD)
