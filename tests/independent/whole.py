"""By hand, from the repository's folder: every check on many random rows, and all their flips.

``python -m tests.independent.whole [--rows N] [--seed N] [--flips POINTS] [--show CHECK]``
"""

from __future__ import annotations

import argparse
from collections import Counter

from tests.independent import catalogue, comparison, flip_scan, random_rows


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--flips", type=int, default=0, help="points at which each is scanned")
    parser.add_argument("--show", default="", help="print differences of this check in full")
    return parser.parse_args()


def main() -> None:
    """Print what was compared, and each difference counted; those of one check in full."""
    given = _arguments()
    rows = random_rows.rows(given.rows, given.seed)
    frame = comparison.judged(rows)
    seen = Counter(zip(frame["check"], frame["band"], strict=True))
    for key in catalogue.CHECKS:
        counts = [f"{band} {seen[key, band]}" for band in catalogue.WORST_FIRST if seen[key, band]]
        print(f"{key:26}", ", ".join(counts) or "information")
    scanned = list(flip_scan.faults(rows, frame, given.flips)) if given.flips else []
    found = [*comparison.differences(rows, frame), *filter(None, scanned)]
    print(f"{len(frame)} verdicts, {len(scanned)} inputs scanned, {len(found)} differences")
    for (check, what), number in Counter((d.check, d.what) for d in found).most_common():
        print(f"  {check}: {what}: {number}")
    prepared = catalogue.prepare(rows)
    for difference in [d for d in found if d.check == given.show][:12]:
        print(difference, prepared[difference.row][0])


if __name__ == "__main__":
    main()
