"""A TOML text whose settings can be traced back to their lines."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from ..errors import UnusableCall

__all__ = ["LONGEST_LINE", "TomlText", "read_toml"]

LONGEST_LINE = 15_000
"""Characters in a line; each line goes into one cell of the record, which holds 32,767 units."""

_WHERE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)\Z")


class TomlText:
    """A parsed TOML text.

    Parameters
    ----------
    text
        The text, its lines parted by line feeds.
    name
        What messages call it.

    Attributes
    ----------
    content
        What the text says, as plain tables.

    Raises
    ------
    UnusableCall
        Naming the line, where the text is not TOML.
    """

    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self.name = name
        self._lines = text.split("\n")
        for number, line in enumerate(self._lines, 1):
            if len(line) > LONGEST_LINE:
                raise UnusableCall(
                    f"{name}, line {number}",
                    f"the line is longer than {LONGEST_LINE:,} characters",
                    "Break it up.",
                )
        try:
            self.content: dict[str, Any] = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            where = _WHERE.search(str(error))
            line = (where and where.group(1)) or str(len(self._lines))
            problem = _WHERE.sub("", str(error))
            raise UnusableCall(
                f"{name}, line {line}", f"is not valid TOML ({problem})", "Correct that line."
            ) from None
        except (ValueError, RecursionError):
            # The parser takes integers and nesting as Python does, and passes its errors on.
            raise UnusableCall(
                name, "holds a number or a nesting too large to read", "Take it out."
            ) from None

    def line(self, *path: str | int) -> int:
        """Give the line on which the value at `path` begins.

        The parser tells no lines, so the answer is the shortest beginning of the text that holds
        the value: found by bisection, as more text never takes a value away.
        """
        low, high = 1, len(self._lines)
        while low < high:
            middle = (low + high) // 2
            if self._holds(middle, path):
                high = middle
            else:
                low = middle + 1
        return low

    def _holds(self, count: int, path: tuple[str | int, ...]) -> bool:
        """Whether the first `count` lines, and those that finish a value, hold `path`."""
        for end in range(count, len(self._lines) + 1):
            try:
                item: Any = tomllib.loads("\n".join(self._lines[:end]))
            except tomllib.TOMLDecodeError:
                continue
            try:
                for step in path:
                    item = item[step]
            except (KeyError, IndexError):
                return False
            return True
        return True

    def error(self, path: tuple[str | int, ...], problem: str, what_to_do: str) -> UnusableCall:
        """Make the error about the value at `path`."""
        return UnusableCall(f"{self.name}, line {self.line(*path)}", problem, what_to_do)


def read_toml(path: Path, what: str) -> TomlText:
    """Read a TOML file.

    Parameters
    ----------
    path
        The file.
    what
        What it is, for messages, such as ``limits file``.

    Raises
    ------
    UnusableCall
        Where it cannot be read or is not TOML.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise UnusableCall(
            str(path), f"the {what} cannot be read ({reason})", "Check the path."
        ) from None
    except UnicodeDecodeError:
        raise UnusableCall(
            path.name, f"the {what} is not UTF-8 text", "Save it as UTF-8."
        ) from None
    return TomlText(text.replace("\r\n", "\n"), path.name)
