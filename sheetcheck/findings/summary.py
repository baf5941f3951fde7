"""Counts of verdicts, for one line and for the summary."""

from __future__ import annotations

import numpy as np

from .results import BANDS, Findings

__all__ = ["VERDICT_BANDS", "accepted_counts", "band_counts", "by_subject", "one_line"]

VERDICT_BANDS = BANDS[:5]
"""Bands that count as verdicts; information never does."""


def band_counts(findings: Findings) -> dict[str, int]:
    """How many of all rows × checks fell in each band."""
    counts = np.zeros(len(BANDS), int)
    for result in findings.results.values():
        counts += np.bincount(result.band, minlength=len(BANDS))
    return {band: int(count) for band, count in zip(BANDS, counts, strict=True)}


def accepted_counts(findings: Findings) -> dict[str, int]:
    """How many verdicts of each band an accepted deviation covers; bands with none left out.

    They are among those that `band_counts` counts.
    """
    counts = dict.fromkeys(BANDS, 0)
    for key, row in findings.ruling.accepted:
        counts[BANDS[findings.results[key].band[row]]] += 1
    return {band: count for band, count in counts.items() if count}


def by_subject(findings: Findings) -> dict[str, dict[str, int]]:
    """The same by subject, in report order."""
    found: dict[str, dict[str, int]] = {}
    for result in findings.results.values():
        counts = found.setdefault(result.check.subject, dict.fromkeys(BANDS, 0))
        for band, count in zip(BANDS, np.bincount(result.band, minlength=len(BANDS)), strict=True):
            counts[band] += int(count)
    return found


def one_line(findings: Findings) -> str:
    """Rows, problems and bands in one line for the terminal."""
    counts = band_counts(findings)
    bands = ", ".join(f"{counts[band]} {band}" for band in VERDICT_BANDS if counts[band])
    accepted = sum(accepted_counts(findings).values())
    if accepted:
        bands += f" ({accepted} of these accepted)"
    problems = len(findings.register.problems)
    rows = len(findings)
    return (
        f"{rows} row{'s' if rows != 1 else ''}; {bands}; "
        f"{problems} problem{'s' if problems != 1 else ''} in the source"
    )
