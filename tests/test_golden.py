"""Every verdict on the demo registers, as text beside which a change can be read."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sheetcheck.cli import app

ROOT = Path(__file__).parent.parent
GOLDEN = Path(__file__).parent / "golden"
NAMES = ("tern_quay_register", "tern_quay_berths_us", "harrow_sidings_acquired")


def short(number):
    """A number or a range to six digits, empty where there is none."""
    if isinstance(number, list):
        return " to ".join(short(end) for end in number)
    return "" if number is None else f"{number:.6g}"


def as_text(found):
    lines = ["tag,load point,check,band,found,required,margin,flips"]
    for row in found["rows"]:
        for key, verdict in row["checks"].items():
            flips = "; ".join(
                f"{name} {value if isinstance(value, str) else short(value)}"
                for name, value in verdict["flips_at"].items()
                if value is not None
            )
            lines.append(
                ",".join(
                    (
                        row["tag"],
                        row["load_point"] or "",
                        key,
                        verdict["band"],
                        short(verdict["found"]),
                        short(verdict["required"]),
                        short(verdict["margin"]),
                        flips,
                    )
                )
            )
    lines += [
        f"problem,{problem['sheet']},{' '.join(problem['cells'][:3])},{problem['problem']}"
        for problem in found["problems"]
    ]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("name", NAMES)
def test_verdicts_on_the_demo_registers(name, request):
    workbook = ROOT / "demo_workbooks" / f"{name}.xlsx"
    result = CliRunner().invoke(app, ["check", str(workbook), "--no-workbook", "--json", "-"])
    assert result.exit_code == 0, result.output
    got = as_text(json.loads(result.stdout))
    golden = GOLDEN / f"{name}.csv"
    if request.config.getoption("--update-golden"):
        GOLDEN.mkdir(exist_ok=True)
        golden.write_text(got, encoding="utf-8")
        return
    want = golden.read_text(encoding="utf-8")
    assert got.splitlines() == want.splitlines(), "python -m pytest --update-golden, and read it"
