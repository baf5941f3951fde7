"""Published tables and the bibliography, one CSV file each, read once."""

from __future__ import annotations

from .. import data

__all__ = ["CAUTIONS", "JURISDICTIONS", "REGULATIONS", "SOURCES", "rows", "source_line"]


def rows(name: str) -> tuple[dict[str, str], ...]:
    """Every row of ``NAME.csv``, as text by column name."""
    return data.rows(__package__, f"{name}.csv")


SOURCES: dict[str, dict[str, str]] = {row["key"]: row for row in rows("sources")}
REGULATIONS: dict[str, dict[str, str]] = {row["cite"]: row for row in rows("regulations")}
CAUTIONS: dict[str, dict[str, str]] = {row["caution"]: row for row in rows("cautions")}
JURISDICTIONS: dict[str, str] = {row["name"]: row["place"] for row in rows("jurisdictions")}
"""Name of a country, state or province to the place under which its rules stand; empty for a place
that has none here, though a part of its name is another's."""


def source_line(key: str, locator: str) -> str:
    """Title of the source and the place in it, as one line.

    Raises
    ------
    KeyError
        Where `key` is not in ``sources.csv``.
    """
    title = SOURCES[key]["title"]
    return f"{title}, {locator}" if locator else title
