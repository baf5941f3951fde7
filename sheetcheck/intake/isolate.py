"""A foreign workbook is read in a process of its own, with a limit on memory and time.

The reader is native code that a crafted file can bring down together with its process: it asks
for the memory that the file claims to need, and ends the process where it gets none. So the
process is not ours, and its end is one message about one workbook. What comes back are plain
values only; nothing in them can make this process call anything.

To start an interpreter takes ten times as long as to read a small workbook. Where the platform
can copy a process, one that has loaded the reader stands by, and each workbook is read in a fresh
copy of it. Where the platform has no limit on memory, the limit on time still holds.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import pickle
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict
from functools import partial
from pathlib import Path
from threading import Timer
from typing import Any, Final

from ..errors import UnusableInput
from .limits import Allowance

__all__ = ["read_apart", "serve", "stand_by"]

_PACKAGE = str(Path(__file__).parents[2])
# The same modules as here, whatever way this process came to find them.
_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "from sheetcheck.intake.isolate import serve; serve()"
)
_SMALLER = (
    "Save only the register's sheet as a new workbook and check that, or allow more with --room."
)
_PLAIN: Final = {("datetime", name) for name in ("date", "datetime", "time", "timedelta")}


def read_apart(
    content: bytes, file: str, allowance: Allowance, only: str | None = None
) -> Iterator[tuple[Any, ...]]:
    """Read the sheets of a workbook in a process of its own.

    Parameters
    ----------
    content, file, allowance, only
        As of `sheets.read_sheets`, which does the work.

    Yields
    ------
    tuple
        What that yields, but for the size.

    Raises
    ------
    UnusableInput
        Where that raises it, or the process has ended before it was done.
    """
    size = len(content)
    request = {"file": file, "size": size, "allowance": asdict(allowance), "only": only}
    reader = _standing_by()
    whole = False
    try:
        reader.limit(allowance.seconds_for(size))
        reader.ask(json.dumps(request).encode() + b"\n" + content)
        for message in reader.answers():
            if message[0] == "end":
                whole = True
                return
            if message[0] == "refused":
                whole = True
                raise UnusableInput(*message[1:])
            if message[0] == "size":
                size = message[1]
                reader.limit(allowance.seconds_for(size))
            else:
                yield message
    finally:
        reader.limit(None)
        if whole and reader.lasting and not reader.late:
            _idle.append(reader)
        else:
            reader.end()
    if reader.late:
        problem = f"takes more than {allowance.seconds_for(size):.0f} s to read"
    else:
        memory = allowance.memory_for(size) >> 20
        problem = f"cannot be read: it is damaged, or needs more than {memory:,} MiB of memory"
    raise UnusableInput(file, problem, _SMALLER)


def stand_by() -> None:
    """Start the process that reads, so that it is ready by the time the first workbook is."""
    _idle.append(_standing_by())


def _standing_by() -> _Reader:
    while _idle:
        reader = _idle.pop()
        if reader.alive:
            return reader
        reader.end()
    return _Reader()


class _Plain(pickle.Unpickler):
    """Takes numbers, words, dates, and lists of such; calls nothing else."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _PLAIN:
            raise pickle.UnpicklingError(f"{module}.{name} is no plain value")
        return super().find_class(module, name)


class _Reader:
    """The process that reads, seen from the one that asks; it ends where that one does."""

    lasting = hasattr(os, "fork")

    def __init__(self) -> None:
        path = json.dumps([_PACKAGE, *filter(None, sys.path)])
        # Its own group: all of it can be ended at once, and Ctrl-C is for the one who asks.
        apart: dict[str, Any] = {"process_group": 0} if self.lasting else {}
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-c", _START, path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            **apart,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._input, self._output = self._process.stdin, self._process.stdout
        self._timer: Timer | None = None
        self.late = False

    @property
    def alive(self) -> bool:
        return self._process.poll() is None

    def limit(self, seconds: float | None) -> None:
        """End the process so many seconds from now; None takes the limit away."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if seconds is not None:
            self._timer = Timer(seconds, self._too_late)
            self._timer.daemon = True
            self._timer.start()

    def _too_late(self) -> None:
        self.late = True
        self._kill()

    def ask(self, request: bytes) -> None:
        with contextlib.suppress(OSError):  # it may have ended already; then there is no answer
            self._input.write(request)
            self._input.flush()

    def answers(self) -> Iterator[tuple[Any, ...]]:
        """Give what the process sends until it ends, in the middle of a message perhaps."""
        with contextlib.suppress(EOFError, pickle.UnpicklingError):
            while True:
                yield _Plain(self._output).load()

    def _kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            if self.lasting:
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()

    def end(self) -> None:
        self._kill()
        with contextlib.suppress(OSError):
            self._input.close()
        self._output.close()
        self._process.wait()


_idle: list[_Reader] = []


@atexit.register
def _end_idle() -> None:
    while _idle:
        _idle.pop().end()


if hasattr(os, "register_at_fork"):
    # A copy of this process has no share in its reader.
    os.register_at_fork(after_in_child=_idle.clear)


# --- in the process that reads ---------------------------------------------------------------


def serve() -> None:
    """Read workbooks asked for on standard input, each in a copy of this process.

    Ends where a copy did not end well, or there is nobody any more who asks.
    """
    from . import sheets  # noqa: F401  # loaded once, for every copy

    if not hasattr(os, "fork"):
        _answer()
        return
    while True:
        copy = os.fork()
        if not copy:
            os._exit(0 if _answer() else 1)
        if hasattr(os, "pidfd_open"):
            watch, end = select.poll(), os.pidfd_open(copy)
            watch.register(end, select.POLLIN)
            watch.register(0, 0)  # tells only that the other side is gone
            if any(where == 0 for where, _ in watch.poll()):
                os.killpg(0, signal.SIGKILL)
            os.close(end)
        if os.waitpid(copy, 0)[1]:
            return


def _answer() -> bool:
    """Read one workbook from standard input; tells whether there was one."""
    from .sheets import read_sheets

    head = sys.stdin.buffer.readline()
    if not head:
        return False
    asked = json.loads(head)
    file, allowance = asked["file"], Allowance(**asked["allowance"])
    _hold(allowance, asked["size"])
    send = partial(pickle.dump, file=sys.stdout.buffer, protocol=5)
    try:
        content = sys.stdin.buffer.read(asked["size"])
        for message in read_sheets(content, file, allowance, asked["only"]):
            if message[0] == "size":
                _hold(allowance, message[1])
            send(message)
            sys.stdout.buffer.flush()
        send(("end",))
    except UnusableInput as error:
        send(("refused", error.where, error.problem, error.what_to_do))
    except (BrokenPipeError, MemoryError):
        return False
    except BaseException as error:  # the native reader's panics are no ordinary exceptions
        what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        todo = "Open it in a spreadsheet program, save it again, and check that."
        send(("refused", file, f"cannot be read ({what})", todo))
    sys.stdout.buffer.flush()
    return True


def _hold(allowance: Allowance, size: int) -> None:
    """Limit this process to the memory, and twice the time, that `size` unpacked bytes may take.

    The one who asks watches the time; the limit here is for when he is gone. No image of the
    memory is left when the process dies, and no file can be written.
    """
    try:
        import resource
    except ImportError:
        return
    for kind, most in (
        (resource.RLIMIT_AS, allowance.memory_for(size)),
        (resource.RLIMIT_CPU, round(2 * allowance.seconds_for(size)) + 1),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(kind)[1]
        soft = most if hard == resource.RLIM_INFINITY else min(most, hard)
        with contextlib.suppress(ValueError, OSError):  # a platform that has it by name only
            resource.setrlimit(kind, (soft, hard))
