"""Opens checked copies in LibreOffice and compares what the source's sheets show.

Not part of the test suite: it needs LibreOffice and takes a minute or two. It puts one set of
result sheets into every workbook it is given, converts all sources and all copies to CSV, one
file a sheet, and compares them. Cells that change with every calculation (the
date, random numbers) differ between two runs on the same source, so sources are converted twice.

    python tests/office/open_all.py FOLDER_OR_WORKBOOK...
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sheetcheck.report.opc import CannotCarry  # noqa: E402 - found through the line above
from tests.report.samples import carry, plain_book, rich_book  # noqa: E402

# Field separator comma, quote ", UTF-8, from line 1, and -1: every sheet in a file of its own.
_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"


def convert(workbooks: list[Path], folder: Path) -> dict[str, bytes]:
    """File name (workbook and sheet) to CSV of everything that LibreOffice opens.

    One call takes them all; where LibreOffice itself ends on a workbook, the rest goes into a
    further call.
    """
    folder.mkdir()
    profile = (folder / "profile").as_uri()
    command = ["soffice", f"-env:UserInstallation={profile}", "--headless", "--convert-to", _CSV]
    waiting = list(workbooks)
    while waiting:
        run = subprocess.run(
            [*command, "--outdir", str(folder), *map(str, waiting)],
            check=False,
            capture_output=True,
            timeout=1200,
        )
        done = {sheet.name.split("-", 1)[0] for sheet in folder.glob("*.csv")}
        if run.returncode == 0:
            break
        last = max((i for i, path in enumerate(waiting) if path.stem in done), default=-1)
        print(f"LibreOffice ends on {waiting[last + 1 : last + 2]}")
        waiting = waiting[last + 2 :]
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*.csv"))}


def main(places: list[str]) -> int:
    """Compare; the status is 1 where a sheet of a source shows something else in its copy."""
    found = [Path(place) for place in places]
    paths = [p for f in found for p in (sorted(f.glob("*.xls[xm]")) if f.is_dir() else [f])]
    count: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sources, copies = folder / "sources", folder / "copies"
        sources.mkdir()
        copies.mkdir()
        for made, content in (("made_plain.xlsx", plain_book()), ("made_rich.xlsx", rich_book())):
            (sources / made).write_bytes(content)
        for path in paths:
            (sources / path.name).write_bytes(path.read_bytes())
        for path in sorted(sources.iterdir()):
            try:
                (copies / path.name).write_bytes(carry(path.read_bytes(), label=path.name))
            except CannotCarry as refusal:
                count["refused"] += 1
                print(refusal)
        given = [sources / path.name for path in sorted(copies.iterdir())]
        before = convert(given, folder / "before")
        again = convert(given, folder / "again")
        after = convert(sorted(copies.iterdir()), folder / "after")
    for sheet, shown in before.items():
        if again.get(sheet) != shown:
            count["sheets that change by themselves"] += 1
        elif after.get(sheet) == shown:
            count["sheets the same"] += 1
        else:
            count["sheets that differ"] += 1
            print(f"{sheet} {'differs' if sheet in after else 'is missing'}")
    count["copies with our sheets shown"] = sum("-Check results" in sheet for sheet in after)
    count["sources opened"] = len({sheet.split("-", 1)[0] for sheet in before})
    for what, number in sorted(count.items()):
        print(f"{number:6} {what}")
    return 1 if count["sheets that differ"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
