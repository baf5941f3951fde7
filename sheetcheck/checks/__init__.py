"""The checks, one file per subject; `CHECKS` holds them all in the order they are reported."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from . import access, cleaning, housekeeping, loading, sealing, tracking, transition
from .declare import Check

__all__ = ["CHECKS", "SUBJECTS"]

SUBJECTS = (transition, loading, sealing, cleaning, tracking, access, housekeeping)
"""Subject modules in report order."""

CHECKS: Mapping[str, Check] = MappingProxyType(
    {
        item.key: item
        for subject in SUBJECTS
        for item in vars(subject).values()
        if isinstance(item, Check)
    }
)
"""Every declared check by its key, in the order written."""
