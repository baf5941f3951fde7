"""The one-way layers of the package, held by a machine."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "sheetcheck"
MAY_IMPORT = {
    "data": set(),
    "errors": set(),
    "files": {"errors"},
    "toml_lines": {"errors", "files"},
    "units": {"data", "errors"},
    "register": {"data", "errors", "units"},
    "intake": {"data", "errors", "files", "toml_lines", "units", "register"},
    "formulas": set(),
    "tables": {"data"},
    "checks": {"formulas", "tables"},
    "findings": {"errors", "toml_lines", "units", "register", "tables", "checks"},
    "report": {
        "data",
        "errors",
        "files",
        "toml_lines",
        "units",
        "register",
        "tables",
        "checks",
        "findings",
    },
}
# Sheets about the columns of a workbook take what the intake says of them.
ALSO = {"report/columns_out.py": {"intake"}}
MODULES = sorted(
    path for layer in MAY_IMPORT for path in (PACKAGE.glob(f"{layer}.py") or ())
) + sorted(path for layer in MAY_IMPORT for path in (PACKAGE / layer).rglob("*.py"))


def layers_imported(path):
    own = path.relative_to(PACKAGE)
    here = own.parts[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            if node.level:
                base = (*here[: len(here) - node.level + 1], *(node.module or "").split("."))
                names = [base] if node.module else [(*base, alias.name) for alias in node.names]
            else:
                names = [tuple((node.module or "").split("."))]
                names = [name[1:] for name in names if name[0] == "sheetcheck"]
            yield from (name[0] for name in names if name and name[0])
        elif isinstance(node, ast.Import):
            for alias in node.names:
                parts = alias.name.split(".")
                if parts[0] == "sheetcheck":
                    yield parts[1]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_only_what_its_layer_may(path):
    own = path.relative_to(PACKAGE)
    layer = own.parts[0].removesuffix(".py")
    allowed = MAY_IMPORT[layer] | {layer} | ALSO.get(str(own), set())
    assert {name for name in layers_imported(path) if name in MAY_IMPORT} <= allowed


def test_every_module_belongs_to_a_layer():
    top = {p.stem for p in PACKAGE.glob("*.py")} | {
        p.name for p in PACKAGE.iterdir() if p.is_dir()
    }
    free = {"__init__", "__main__", "cli", "api", "earlier", "batch", "run", "__pycache__"}
    assert top - free == set(MAY_IMPORT)


def test_no_module_passes_600_lines():
    long = {
        str(path.relative_to(PACKAGE)): lines
        for path in PACKAGE.rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 600
    }
    assert not long
