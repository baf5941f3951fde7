"""The list of every verdict, held against the findings."""

from __future__ import annotations

import pytest

from sheetcheck.findings.results import Findings
from sheetcheck.report.display import Display
from sheetcheck.report.model import SheetModel
from sheetcheck.units import factor
from tests.report.sheet_models import laid_out, table, text, values


def test_every_verdict_has_a_row_also_where_it_meets(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    sheet = sheets["Check verdicts"]
    rows = table(sheet)
    verdicts = [verdict for row in range(len(findings)) for verdict in findings.verdicts(row)]
    assert len(sheet.body) == len(rows) == len(verdicts)
    assert sheet.filtered
    met, display = 0, Display(findings.register)
    for row, verdict in zip(rows, verdicts, strict=True):
        check = findings.results[verdict.key].check
        assert row["Tag"] == findings.register.values["tag"][verdict.row]
        assert (row["Check"], text(row["Verdict"])) == (check.title, verdict.band)
        assert (row["Source"], row["Grade"]) == (verdict.source, verdict.grade)
        assert row["What to do"] == "\n".join((verdict.remedy, *verdict.alternatives))
        assert str(row["Why"]).casefold().startswith(verdict.why.casefold())
        for name, outcomes in verdict.if_known.items():
            said = [
                f"{display.tried(name, value)}: {band}" in str(row["Why"])
                for value, band in outcomes.items()
            ]
            assert all(said) or set(outcomes.values()) == {"not judged"}
        for reference in verdict.cells.values():
            source, _, cell = reference.rpartition("!")
            cells = str(row["Source cells"]).partition(f"{source}!")[2]
            assert cell in cells.partition(";")[0].split(", ")
        by = factor(str(row["Unit"]) or "1", check.unit) or 1.0
        in_words = bool(check.unit) and isinstance(text(row["Found"]), str) and not row["Unit"]
        in_words &= " to " not in str(text(row["Found"]))
        for name in ("found", "required", "margin"):
            number = getattr(verdict, name)
            if in_words:
                # Not by its numbers; see test_findings_sheet.
                assert name != "margin" or number is None or number >= 0
            elif isinstance(number, float):
                assert text(row[name.capitalize()]) == pytest.approx(number / by)
        if not check.unit and verdict.cells:
            assert text(row["Found"]) not in (None, ""), (
                "what is recorded stands where no number is found"
            )
        if verdict.band == "meets" and isinstance(verdict.margin, float):
            assert float(str(text(row["Margin"]))) >= 0
            met += 1
    assert met


@pytest.mark.parametrize(("start", "stop"), [(0, 0), (0, 7), (5, 83), (77, 1000), (790, 791)])
def test_a_part_of_the_verdicts_is_a_part_of_the_list(
    sheets: dict[str, SheetModel], start: int, stop: int
) -> None:
    body = sheets["Check verdicts"].body
    assert list(body.rows(start, min(stop, len(body)))) == list(body)[start:stop]


def test_too_many_verdicts_for_a_sheet_are_named_in_the_record(
    findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    count = len(findings) * len(findings.results)
    for most, there in ((count, True), (count - 1, False)):
        monkeypatch.setattr("sheetcheck.report.verdicts_sheet.MOST_VERDICTS", most)
        sheets = laid_out(findings)
        assert ("Check verdicts" in sheets) == there
        (said,) = [row[1] for row in values(sheets["Check record"]) if row[:1] == ["Verdicts"]]
        assert str(said).startswith(f"{count:,}")
        assert ("--csv" in str(said)) != there
