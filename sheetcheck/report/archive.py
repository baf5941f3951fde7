"""Zip archives: entries copied as they stand, without unpacking, and new ones with fixed stamps.

The standard library reads and writes the archive; what it lacks is a copy of an entry's
compressed bytes, which is the one thing that keeps foreign parts exactly as they were.
"""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Iterable, Iterator
from types import TracebackType
from typing import BinaryIO

from ..files import write_beside

__all__ = ["ArchiveWriter", "raw_bytes", "without_zip64"]

# APPNOTE.TXT 4.3.7: a local file header is 30 bytes, then the name, then the extra field, whose
# lengths stand at offset 26.
_LOCAL_HEADER = 30
_NAME_AND_EXTRA = struct.Struct("<26xHH")
_LOCAL_SIGNATURE = b"PK\x03\x04"
_DATA_DESCRIPTOR = 0x08
_UTF8 = 0x800
_ZIP64_EXTRA = 1
_PIECE = 1 << 20
# The earliest stamp a zip can carry, so that the same input gives the same bytes.
_STAMP = (1980, 1, 1, 0, 0, 0)
# Sheets are large and repetitive: the next levels take twice the time to save a sixth (measured).
_LEVEL = 3


def raw_bytes(file: BinaryIO, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Give the compressed bytes of `entry` as they stand in `file`, in pieces.

    Raises
    ------
    zipfile.BadZipFile
        Where the entry is not where the directory says, or is cut short.
    """
    file.seek(entry.header_offset)
    header = file.read(_LOCAL_HEADER)
    if len(header) < _LOCAL_HEADER or not header.startswith(_LOCAL_SIGNATURE):
        raise zipfile.BadZipFile(f"no entry where the directory places {entry.filename}")
    name, extra = _NAME_AND_EXTRA.unpack(header)
    file.seek(name + extra, 1)
    left = entry.compress_size
    while left:
        piece = file.read(min(left, _PIECE))
        if not piece:
            raise zipfile.BadZipFile(f"{entry.filename} is cut short")
        left -= len(piece)
        yield piece


def without_zip64(extra: bytes) -> bytes:
    """Give an extra field without its 64-bit sizes, which are written anew where needed."""
    kept = b""
    while len(extra) >= 4:
        kind, length = struct.unpack_from("<HH", extra)
        if kind != _ZIP64_EXTRA:
            kept += extra[: 4 + length]
        extra = extra[4 + length :]
    return kept


class _Kept(zipfile.ZipInfo):
    """An entry of another archive, whose name keeps its bytes: it need not be in UTF-8."""

    def _encodeFilenameFlags(self) -> tuple[bytes, int]:  # noqa: N802 - the library's name
        return self.filename.encode("utf-8" if self.flag_bits & _UTF8 else "cp437"), self.flag_bits


class ArchiveWriter:
    """Writes a zip archive, with a comment, into an open, seekable binary file."""

    def __init__(self, file: BinaryIO, comment: bytes = b"") -> None:
        self._file = file
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL)
        self._zip.comment = comment

    def __enter__(self) -> ArchiveWriter:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._zip.close()

    def add(self, name: str, content: bytes | Iterable[bytes]) -> None:
        """Add a new entry of less than 2 GiB.

        Larger ones would need headers of the 64-bit kind, which spreadsheet programs may refuse.
        """
        entry = zipfile.ZipInfo(name, _STAMP)
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.create_system = 0  # the same bytes whatever system wrote them
        with self._zip.open(entry, "w") as part:
            if isinstance(content, bytes):
                part.write(content)
            else:
                write_beside(part.write, content)

    def copy(self, source: BinaryIO, original: zipfile.ZipInfo) -> None:
        """Add an entry of another archive with its compressed bytes, checksum, date and mode."""
        entry = _Kept(original.filename, original.date_time)
        entry.filename = original.filename
        entry.compress_type = original.compress_type
        entry.comment = original.comment
        entry.extra = without_zip64(original.extra)
        entry.create_system = original.create_system
        entry.external_attr = original.external_attr
        entry.internal_attr = original.internal_attr
        # The sizes are known here and stand in the header, not behind the data.
        entry.flag_bits = original.flag_bits & ~_DATA_DESCRIPTOR
        entry.CRC = original.CRC
        entry.compress_size = original.compress_size
        entry.file_size = original.file_size
        # ZipFile has no call for this; these four attributes are what its own `open` sets.
        self._file.seek(self._zip.start_dir)
        entry.header_offset = self._file.tell()
        self._file.write(entry.FileHeader())
        for piece in raw_bytes(source, original):
            self._file.write(piece)
        self._zip.filelist.append(entry)
        self._zip.NameToInfo[entry.filename] = entry
        self._zip.start_dir = self._file.tell()
        self._zip._didModify = True  # type: ignore[attr-defined]
