"""A TOML text whose settings can be traced back to their lines."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from .errors import UnusableCall
from .files import content_of

__all__ = ["LONGEST_LINE", "TomlText", "quoted", "read_toml"]

LONGEST_LINE = 15_000
"""Characters in a line; each line goes into one cell of the record, which holds 32,767 units."""

_LONGEST = 1 << 20  # characters: the columns of a hundred wide sheets
# The parser takes memory that grows with the square of a key's depth.
_DEEP = re.compile(r"(?:[\w-]+[\"']?[ \t]*\.[ \t]*[\"']?){20}")
_LONGEST_SEARCH = 1 << 20  # characters parsed to find one line
_WHERE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)\Z")


class TomlText:
    """A parsed TOML text, its lines parted by line feeds; messages call it `name`.

    ``content`` is what it says, as plain tables. Raises UnusableCall, naming the line, where the
    text is not TOML, or asks for more than a settings file may.
    """

    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self.name = name
        self._lines = text.split("\n")
        self._room = _LONGEST_SEARCH
        if len(text) > _LONGEST:
            raise UnusableCall(
                name, f"is longer than {_LONGEST:,} characters", "Take out what is not needed."
            )
        for number, line in enumerate(self._lines, 1):
            if len(line) > LONGEST_LINE:
                raise UnusableCall(
                    f"{name}, line {number}",
                    f"the line is longer than {LONGEST_LINE:,} characters",
                    "Break it up.",
                )
            if _DEEP.search(line):
                raise UnusableCall(
                    f"{name}, line {number}", "names a key too deep to read", "Take it out."
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
        """Give the line on which the value at `path` begins; 0 where that takes too long to find.

        The parser tells no lines, so the answer is the shortest beginning of the text that holds
        the value: found by bisection, as more text never takes a value away. Of a list of tables
        only the one table is looked at, where its heading shows which that is.
        """
        first, lines = 0, self._lines
        if len(path) > 1 and isinstance(path[1], int) and (heads := self.heads(str(path[0]))):
            first = heads[path[1]] - 1
            lines = lines[first : [*heads[1:], len(lines) + 1][path[1]] - 1]
            path = (path[0], 0, *path[2:])
        low, high = 1, len(lines)
        while low < high:
            middle = (low + high) // 2
            if self._holds(lines, middle, path):
                high = middle
            else:
                low = middle + 1
        return first + low if self._room > 0 else 0

    def heads(self, name: str) -> list[int]:
        """Give the line of the ``[[name]]`` of each table of a list; none in another form."""
        head = re.compile(rf"\s*\[\[\s*\"?{name}\"?\s*\]\]")
        found = [number for number, line in enumerate(self._lines, 1) if head.match(line)]
        return found if len(found) == len(self.content[name]) else []

    def _holds(self, lines: list[str], count: int, path: tuple[str | int, ...]) -> bool:
        """Whether the first `count` lines, and those that finish a value, hold `path`."""
        for end in range(count, len(lines) + 1):
            text = "\n".join(lines[:end])
            self._room -= len(text)
            if self._room < 0:
                return True
            try:
                item: Any = tomllib.loads(text)
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
        """Make the error about the value at `path`; without a name it was given in a call."""
        line = self.line(*path) if self.name else 0
        where = f"{self.name}, line {line}" if line else self.name or ".".join(map(str, path))
        return UnusableCall(where, problem, what_to_do)


def read_toml(path: Path, what: str) -> TomlText:
    """Read a TOML file; `what` it is, such as ``limits file``, is for messages.

    Raises UnusableCall where it cannot be read or is not TOML.
    """
    try:
        # A character takes four bytes at most.
        text = content_of(path, f"a {what}", 4 * _LONGEST).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnusableCall(
            path.name, f"the {what} is not UTF-8 text", "Save it as UTF-8."
        ) from None
    return TomlText(text.replace("\r\n", "\n"), path.name)


def quoted(text: str) -> str:
    """Text as a basic TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub("[\x00-\x1f\x7f]", lambda c: f"\\u{ord(c[0]):04x}", escaped) + '"'
