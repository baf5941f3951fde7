"""The JSON of a register row holds its verdicts as they are, whatever their texts."""

import numpy as np
import orjson

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.verdict_columns import VerdictColumns
from sheetcheck.report.json_out import json_pieces
from sheetcheck.report.json_parts import DIGITS
from tests.checks.samples import sample_rows
from tests.conftest import make_register

AWKWARD = ("a,b", "two\nlines", '{,"x":1}', "50 %b", 'quoted "so" \\', "", "Rohförderer", "null")


def test_every_verdict_of_a_row():
    rows = sample_rows(25, seed=5, missing=0.3)
    for row, text in zip(rows, AWKWARD, strict=False):
        row["area"] = text
    findings = evaluate(make_register(rows))
    findings.ruling.accepted["load-width", 3] = 'next shutdown, "so" it was said'
    written = orjson.loads(b"".join(json_pieces(findings, "1")))["rows"]
    columns = VerdictColumns(findings, np.arange(len(rows)), DIGITS)
    for key in findings.results:
        for row, verdict in zip(written, columns.verdicts(key), strict=True):
            got = row["checks"][key]
            assert got == orjson.loads(orjson.dumps({n: getattr(verdict, n) for n in got}))
            assert ("accepted" in got) == bool(verdict.accepted)
    assert written[3]["checks"]["load-width"]["accepted"] == 'next shutdown, "so" it was said'
    assert [row["values"].get("area", "") for row in written[:8]] == list(AWKWARD)
