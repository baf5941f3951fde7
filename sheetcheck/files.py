"""Files that are read whole, and files that appear only once they are whole."""

from __future__ import annotations

import os
import re
import shutil
import stat
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory, gettempdir
from typing import IO, BinaryIO, TypeVar, cast
from unicodedata import normalize

from .errors import OutputExists, SheetcheckError, UnusableCall

try:
    import fcntl
except ImportError:  # there, a file that is open cannot be removed anyway
    fcntl = None  # type: ignore[assignment]

__all__ = [
    "content_of",
    "is_stream",
    "make_folder",
    "replacing",
    "scratch",
    "settle",
    "sweep",
    "write_beside",
]

_Piece = TypeVar("_Piece")
_LEFT = re.compile(r"\..+\.\d+\.sheetcheck\.part\Z|\.sheetcheck-\w+\Z")
_HELD = "held"


def content_of(
    path: Path,
    what: str,
    most: float,
    refusal: type[SheetcheckError] = UnusableCall,
    smaller: str = "Take out what is not needed.",
) -> bytes:
    """Read a file whole; raises `refusal`, in plain words, where it cannot be.

    `what` it should be (``a workbook``) is for messages. A folder, pipe or device, which may never
    end, is refused, and more than `most` bytes: then `smaller` is what to do.
    """
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):
            kind = {stat.S_IFDIR: "folder", stat.S_IFIFO: "pipe", stat.S_IFSOCK: "socket"}
            found = kind.get(stat.S_IFMT(about.st_mode), "device")
            raise refusal(str(path), f"is a {found}", f"Give {what}, saved as a file.")
        if about.st_size <= most:
            return path.read_bytes()
    except FileNotFoundError:
        problem, what_to_do = "there is no such file", "Check the path."
    except PermissionError:
        problem = "cannot be opened for reading; it may be open in another program"
        what_to_do = "Close it there, or copy it, and try again."
    except OSError as error:
        problem = f"cannot be read ({error.strerror or 'unknown reason'})"
        what_to_do = "Copy it to a local disk and try again."
    else:
        problem, what_to_do = f"is larger than {most / (1 << 20):,.0f} MiB", smaller
    raise refusal(str(path), problem, what_to_do)


def settle(inputs: Iterable[Path], outputs: Iterable[Path], *, overwrite: bool) -> None:
    """Refuse outputs that would cost a file, before any work; remove what dead runs left.

    Raises UnusableCall where an output is one of `inputs`, by whatever name or link, `overwrite`
    or not; a folder; or another output. OutputExists where it is there and may not be replaced.
    """
    outputs = list(outputs)
    read = {name for path in inputs for name in _names(path)}
    written: set[object] = set()
    for path in outputs:
        names = _names(path)
        if not names.isdisjoint(read):
            problem = "is a file that this call reads; no output may take its place"
            raise UnusableCall(str(path), problem, "Name another file, or a folder with --out.")
        if is_stream(path):
            continue
        if not names.isdisjoint(written):
            raise UnusableCall(str(path), "is named for two outputs", "Name another file for one.")
        written |= names
        with _reported(path):
            if path.is_dir():
                raise UnusableCall(str(path), "is a folder", "Name a file.")
            if (path.exists() or path.is_symlink()) and not overwrite:
                raise OutputExists(
                    str(path), "is already there", "Use --overwrite, or write to another folder."
                )
    sweep({path.parent for path in outputs})


def _names(path: Path) -> set[object]:
    """All by which a file is known: where links lead, upper and lower case aside, and its node."""
    names: set[object] = {normalize("NFC", os.path.realpath(path)).casefold()}
    with suppress(OSError):
        about = path.stat()
        if about.st_ino:
            names.add((about.st_dev, about.st_ino))
    return names


def is_stream(path: Path) -> bool:
    """Whether a name stands for a pipe or a device, which is written to, never replaced."""
    if str(path.absolute()).startswith(("/dev/std", "/dev/fd/", "/proc/")):
        return True  # a file perhaps, to which standard output goes
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def make_folder(path: Path) -> None:
    """Make a folder for outputs, where it is not there; UnusableCall where it cannot be made."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, RecursionError) as error:
        reason = getattr(error, "strerror", None) or "too deep"
        raise UnusableCall(
            str(path), f"the folder cannot be made ({reason})", "Choose another folder."
        ) from None


@contextmanager
def _reported(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise UnusableCall(
            str(path),
            f"cannot be written ({error.strerror or error})",
            "Choose another folder or a shorter name, or make room.",
        ) from None


@contextmanager
def replacing(path: Path, *, overwrite: bool) -> Iterator[BinaryIO]:
    """Open a file that takes the place of `path` once it is written whole.

    It stands in the same folder, under a hidden name, until then; a failed run leaves what was
    there before. What is written to a pipe or a device goes there once it is whole.

    Raises OutputExists where `path` is there and `overwrite` is not set; UnusableCall where it
    cannot be written.
    """
    # Not the tempfile module: its files are closed to everybody but their owner.
    waiting = path.with_name(f".{path.name}.{os.getpid()}.sheetcheck.part")
    with _reported(path):
        if is_stream(path):
            with NamedTemporaryFile() as file, path.open("ab") as stream:
                yield cast(BinaryIO, file)
                file.seek(0)
                shutil.copyfileobj(file, stream)
            return
        if path.exists() and not overwrite:
            raise OutputExists(str(path), "is already there", "Use --overwrite to replace it.")
        try:
            with waiting.open("w+b") as file:
                with suppress(OSError):  # not every file system can
                    _hold(file)
                yield file
                file.flush()
                os.fsync(file.fileno())
            os.replace(waiting, path)
        finally:
            waiting.unlink(missing_ok=True)


@contextmanager
def scratch(folder: Path | None) -> Iterator[Path]:
    """Make a hidden folder that goes afterwards; in the system's own, where `folder` is None."""
    with _reported(folder or Path("a temporary folder")):
        held = TemporaryDirectory(prefix=".sheetcheck-", dir=folder, ignore_cleanup_errors=True)
    with held as name, Path(name, _HELD).open("wb") as file:
        with suppress(OSError):
            _hold(file)
        yield Path(name)


def _hold(file: IO[bytes]) -> None:
    """Let others see that the process that writes a file is still there."""
    if fcntl is not None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def sweep(folders: Iterable[Path]) -> None:
    """Remove unfinished files from folders, and from the system's own, whose process is gone."""
    for folder in {*folders, None}:
        with suppress(OSError):
            where = folder or Path(gettempdir())
            for name in filter(_LEFT.match, os.listdir(where)):
                left = where / name
                with suppress(OSError):
                    held = left / _HELD if left.is_dir() else left
                    if fcntl is not None:
                        with held.open("r+b") as file:
                            _hold(file)
                    held.unlink()
                    if held != left:
                        shutil.rmtree(left)


def write_beside(write: Callable[[_Piece], object], pieces: Iterable[_Piece]) -> None:
    """Write pieces in their order, each while the next one is being made.

    Compressing and writing leave the interpreter free, so the two take the time of one. No more
    than two pieces are held at once. An error of either side ends both and is raised here.
    """
    from concurrent.futures import Future, ThreadPoolExecutor

    with ThreadPoolExecutor(max_workers=1) as beside:
        before: Future[object] | None = None
        for piece in pieces:
            if before is not None:
                before.result()
            before = beside.submit(write, piece)
        if before is not None:
            before.result()
