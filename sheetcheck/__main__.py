"""``python -m sheetcheck`` and the console script."""

from __future__ import annotations

import sys

__all__ = ["run"]


def run() -> None:
    """Start the command line; ``--version`` alone answers without loading it."""
    if sys.argv[1:] == ["--version"]:
        from . import __version__

        print(f"sheetcheck {__version__}")
        return
    from .cli import app

    app()


if __name__ == "__main__":
    run()
