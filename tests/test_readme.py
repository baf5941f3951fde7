"""What the README says is so: its table is current and its commands are the real ones."""

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sheetcheck.cli import app
from sheetcheck.report.rules import listing

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
START, END = "<!-- rules table -->\n", "<!-- end of rules table -->"


def readme():
    return README.read_text(encoding="utf-8")


def command(name):
    found = re.search(rf"<!-- {name} command -->\n```sh\n(.+)\n```", readme())
    assert found
    return found.group(1)


def test_the_table_of_checks_is_current(request):
    text = readme()
    before, rest = text.split(START)
    table, after = rest.split(END)
    current = listing("md") + "\n"
    if request.config.getoption("--update-golden"):
        README.write_text(before + START + current + END + after, encoding="utf-8")
        return
    assert table == current, "stale: python -m pytest tests/test_readme.py --update-golden"


def test_the_main_job_command_runs(tmp_path, monkeypatch):
    *_, job = command("main job").split("&&")
    words = shlex.split(job)
    assert words[0] == ".venv/bin/sheetcheck"
    monkeypatch.chdir(ROOT)
    words[words.index("checked")] = str(tmp_path)
    result = CliRunner().invoke(app, words[1:])
    assert result.exit_code == 0, result.output
    assert (tmp_path / "harrow_sidings_acquired.checked.xlsx").exists()


def test_the_test_command_is_what_ci_runs():
    assert command("test").endswith("-m pytest -q")
    assert "<!-- test command -->" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_picture_is_there():
    for name in re.findall(r"!\[.*?\]\((.+?)\)", readme()):
        assert (ROOT / name).is_file(), name


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_no_line_is_longer_than_a_screen_outside_code_and_tables(name):
    fenced = False
    for line in (ROOT / name).read_text(encoding="utf-8").splitlines():
        fenced ^= line.startswith("```")
        if not fenced and not line.startswith(("|", "!")):
            assert len(line) <= 105, line
