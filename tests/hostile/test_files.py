"""Files that are no workbooks, cannot be opened, or cannot be written; and names of all kinds."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from .conftest import check, the_line
from .packages import register

PROJECT = Path(__file__).parents[2]
OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
posix = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a POSIX system")

# Signatures as their formats publish them; the rest of each file does not matter here.
NO_WORKBOOKS: dict[str, tuple[bytes, str]] = {
    "nothing.xlsx": (b"", "empty"),
    "zeros.xlsx": (bytes(5000), "not a workbook"),
    "text.xlsx": (b"Tag,Belt width\nCV-1,900\n", "not a workbook"),
    "page.xls": (b"<html><table><tr><td>Tag</td></tr></table></html>", "not a workbook"),
    "flat.xml.xls": (b'<?xml version="1.0"?><Workbook/>', "not a workbook"),
    "picture.xlsx": (b"\x89PNG\r\n\x1a\n" + bytes(300), "not a workbook"),
    "document.xlsx": (b"%PDF-1.7\n%%EOF", "not a workbook"),
    "packed.xlsx": (b"\x1f\x8b\x08" + zlib.compress(register()), "not a workbook"),
    "old version 2.xls": (b"\x09\x00\x04\x00\x02\x00\x10\x00" + bytes(500), "not a workbook"),
    "old version 4.xls": (b"\x09\x04\x06\x00\x00\x04\x10\x00" + bytes(500), "not a workbook"),
    "old, cut short.xls": (OLE2 + bytes(504), "cannot be read"),
    "old, of noise.xls": (OLE2 + bytes(range(256)) * 40, "cannot be read"),
    "locked.xlsx": (OLE2 + bytes(504) + "EncryptedPackage".encode("utf-16-le"), "password"),
    "binary.csv": (bytes(range(256)) * 20, "not text|conveyor table"),
    "noise.csv": (b"\x00\x01\x02" * 400, "not text"),
    "one long line.csv": (b"Tag" + b"," * 200_000, "split into cells"),
    "ragged.csv": (b"Tag,\n" * 200_000 + b"," * 100_000, "too many"),
    "a long cell.csv": (b'Tag,"' + b"x" * 200_000 + b'"\n', "split into cells"),
    "~$register.xlsx": (b"\x05owner" + b" " * 159, "workbook itself"),
}


@pytest.mark.parametrize("name", NO_WORKBOOKS)
def test_no_workbook(tmp_path, refused, name):
    content, says = NO_WORKBOOKS[name]
    path = tmp_path / name
    path.write_bytes(content)
    refused(path, says)


def test_no_such_file(tmp_path, refused):
    refused(tmp_path / "gone.xlsx", "no such file")


@posix
def test_links_are_followed_and_never_written_through(tmp_path, refused):
    source = tmp_path / "register.xlsx"
    source.write_bytes(register())
    (tmp_path / "link.xlsx").symlink_to(source)
    assert check(tmp_path / "link.xlsx").exit_code == 0
    (tmp_path / "broken.xlsx").symlink_to(tmp_path / "gone.xlsx")
    refused(tmp_path / "broken.xlsx", "no such file")
    (tmp_path / "loop.xlsx").symlink_to(tmp_path / "loop.xlsx")
    refused(tmp_path / "loop.xlsx", "cannot be read")
    # A link in the place of the result: it is replaced, what it points to is not.
    precious = tmp_path / "precious.txt"
    precious.write_text("kept")
    target = tmp_path / "register.checked.xlsx"
    target.symlink_to(precious)
    assert check(source, "--overwrite").exit_code == 0
    assert precious.read_text() == "kept"
    assert not target.is_symlink()
    target.unlink()
    target.symlink_to(source)
    assert "a file that this call reads" in the_line(check(source, "--overwrite"))
    assert source.read_bytes() == register()


@posix
def test_a_device_is_no_workbook(refused):
    line = the_line(check("/dev/zero"))
    assert "device" in line


NAMES = [
    "two\nlines.xlsx",
    "bell\x07 and \x1b[31mred.xlsx",
    'quote\' "double" & <less>.xlsx',
    "%s {0} $HOME `id`.xlsx",
    "trailing dot..xlsx",
    " blank first.xlsx",
    "ünïcödé 中文 مرحبا 😀.xlsx",
    "right\u202eleft.xlsx",
    "[Content_Types].xlsx",
    "=1+1.xlsx",
    "*?.xlsx",
]


@posix
@pytest.mark.parametrize("name", NAMES)
def test_names_with_odd_characters(tmp_path, name):
    source = tmp_path / name
    source.write_bytes(register())
    result = check(source, "--json", tmp_path / "r.json", "--csv", tmp_path / "r.csv")
    assert result.exit_code == 0, result.output
    assert len(result.stdout.splitlines()) == 2
    assert all(line.isprintable() for line in result.stdout.splitlines())
    assert (tmp_path / name.replace(".xlsx", ".checked.xlsx")).is_file()
    assert not any(path.name.endswith(".part") for path in tmp_path.iterdir())


@posix
def test_a_name_that_is_no_text(tmp_path):
    source = Path(os.fsdecode(os.fsencode(tmp_path) + b"/register \xff\xfe.xlsx"))
    try:
        source.write_bytes(register())
    except OSError:
        pytest.skip("this file system takes text names only")
    out = tmp_path / "out"
    result = check(tmp_path, "--out", out, "--json", out / "r.json", "--csv", out / "r.csv")
    assert result.exit_code == 0, result.output
    source.write_bytes(b"no workbook")
    assert "not a workbook" in the_line(check(source, "--overwrite"))


@posix
@pytest.mark.parametrize("length", [240, 250])
def test_a_name_that_leaves_no_room_for_the_result(tmp_path, length):
    source = tmp_path / ("x" * (length - 5) + ".xlsx")
    source.write_bytes(register())
    line = the_line(check(source))
    assert "cannot be written" in line
    assert list(tmp_path.iterdir()) == [source]


# --- writing ----------------------------------------------------------------------------------


@pytest.fixture
def source(tmp_path):
    path = tmp_path / "register.xlsx"
    path.write_bytes(register())
    return path


OUTPUTS = {
    "workbook": ("register.checked.xlsx", []),
    "json": ("all.json", ["--no-workbook", "--json", "all.json"]),
    "csv": ("all.csv", ["--no-workbook", "--csv", "all.csv"]),
}


@pytest.mark.parametrize("kind", OUTPUTS)
@pytest.mark.parametrize("number", [errno.EACCES, errno.EROFS, errno.ENOSPC, errno.EDQUOT])
def test_a_folder_that_takes_no_file(source, tmp_path, monkeypatch, kind, number):
    """The error is injected: an administrator may write anywhere."""
    name, options = OUTPUTS[kind]
    options = [str(tmp_path / o) if o == name else o for o in options]
    (tmp_path / name).write_bytes(b"an earlier result")
    opened = Path.open

    def denied(self, mode="r", *more, **named):
        if "w" in mode and self.parent == tmp_path:
            raise OSError(number, os.strerror(number))
        return opened(self, mode, *more, **named)

    monkeypatch.setattr(Path, "open", denied)
    line = the_line(check(source, "--overwrite", *options))
    monkeypatch.undo()
    assert name in line
    assert os.strerror(number) in line
    assert (tmp_path / name).read_bytes() == b"an earlier result"
    assert {path.name for path in tmp_path.iterdir()} == {"register.xlsx", name}


@posix
@pytest.mark.parametrize("room", [0, 9000])
def test_a_full_disk_keeps_the_earlier_result(source, tmp_path, room):
    """A limit on the size of files has the effect of a disk that fills while it is written."""
    code = (
        "import resource, sys; from sheetcheck.cli import app; "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]),) * 2); "
        "app(sys.argv[2:])"
    )
    kept = tmp_path / "register.checked.xlsx"
    kept.write_bytes(b"an earlier result")
    found = subprocess.run(
        [sys.executable, "-c", code, str(room), "check", str(source), "--overwrite"],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(PROJECT)},
    )
    assert found.returncode == 2
    (line,) = found.stderr.splitlines()
    assert "register.checked.xlsx: cannot be written" in line
    assert kept.read_bytes() == b"an earlier result"
    assert sorted(tmp_path.iterdir()) == [kept, source]


def test_a_folder_that_cannot_be_made(source, tmp_path):
    assert "cannot be made" in the_line(check(source, "--out", source / "below"))
    assert "cannot be made" in the_line(check(source, "--out", source))
    assert list(tmp_path.iterdir()) == [source]


@posix
def test_a_column_map_that_fails_half_way_keeps_the_earlier_one(source, tmp_path, monkeypatch):
    from typer.testing import CliRunner

    from sheetcheck.cli import app

    kept = tmp_path / "map.toml"
    kept.write_text("# an earlier map\n")

    def full(descriptor):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("sheetcheck.files.os.fsync", full)
    result = CliRunner().invoke(app, ["columns", str(source), "--save", str(kept), "--overwrite"])
    assert "No space left" in the_line(result)
    assert kept.read_text() == "# an earlier map\n"
    assert sorted(tmp_path.iterdir()) == [kept, source]
