"""Files that appear only once they are whole."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, TypeVar

from .errors import OutputExists, UnusableCall

__all__ = ["make_folder", "replacing", "write_beside"]

_Piece = TypeVar("_Piece")


def make_folder(path: Path) -> None:
    """Make a folder for outputs, where it is not there.

    Raises
    ------
    UnusableCall
        Where it cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, RecursionError) as error:
        reason = getattr(error, "strerror", None) or "too deep"
        raise UnusableCall(
            str(path), f"the folder cannot be made ({reason})", "Choose another folder."
        ) from None


@contextmanager
def replacing(path: Path, *, overwrite: bool) -> Iterator[BinaryIO]:
    """Open a file that takes the place of `path` once it is written whole.

    It stands in the same folder, under a hidden name, until then; a failed run leaves what was
    there before.

    Raises
    ------
    OutputExists
        Where `path` is there and `overwrite` is not set.
    UnusableCall
        Where the folder cannot be written to.
    """
    # Not the tempfile module: its files are closed to everybody but their owner.
    waiting = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        if path.exists() and not overwrite:
            raise OutputExists(str(path), "is already there", "Use --overwrite to replace it.")
        try:
            with waiting.open("w+b") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            os.replace(waiting, path)
        finally:
            waiting.unlink(missing_ok=True)
    except OSError as error:
        raise UnusableCall(
            str(path),
            f"cannot be written ({error.strerror or error})",
            "Choose another folder, or make room.",
        ) from None


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
