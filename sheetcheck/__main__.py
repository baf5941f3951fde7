"""``python -m sheetcheck`` and the console script."""

from __future__ import annotations

import signal  # no more than these, so that Ctrl-C is heard early
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

__all__ = ["run"]


class _Stopped(BaseException):
    """A signal asked the process to end; no library takes this for an error of its own."""


def _stop(number: int, frame: Any) -> None:
    _on_signals(signal.SIG_IGN)  # what cleans up is not stopped
    raise _Stopped(number)


def _on_signals(act: Any) -> None:
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # One that is ignored, as nohup has it, stays ignored.
        if number is not None and signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, act)


def run() -> None:
    """Start the command line; ``--version`` alone answers without loading it."""
    try:
        _on_signals(_stop)
        if sys.argv[1:] == ["--version"]:
            from . import __version__

            print(f"sheetcheck {__version__}")
            return
        from .cli import app

        app()
    except _Stopped as stopped:
        try:  # noqa: SIM105
            print("sheetcheck: stopped; finished outputs are whole", file=sys.stderr)
        except OSError:
            pass
        sys.exit(128 + stopped.args[0])


if __name__ == "__main__":
    run()
